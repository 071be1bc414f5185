/* Prints answers, and remembers whether something of them was lost. */
#include "answer.h"

#include <stdlib.h>

#include "cli.h"

void tl_answer_lost(void)
{
    tl_answer_is_lost = true;
}

void tl_answer_page(FILE *f, const struct tl_page *page)
{
    tl_answer_is_lost = tl_answer_is_lost || page->failed;
    tl_page_print(page, f);
}

void tl_answer_say(FILE *f, int max_lines, int indent, struct tl_text *text)
{
    struct tl_page page = {.lines = 0};
    tl_page_put(&page, max_lines, indent, text);
    tl_answer_page(f, &page);
}

void tl_answer_line(FILE *f, struct tl_text *text)
{
    tl_answer_is_lost = tl_answer_is_lost || text->failed;
    fprintf(f, "%s\n", tl_text_string(text));
    tl_text_free(text);
}

void tl_answer_json(json_t *root, size_t digits)
{
    char *text = root ? json_dumps(root, JSON_INDENT(2) | JSON_REAL_PRECISION(digits)) : NULL;
    if (text)
        puts(text);
    else
        tl_answer_is_lost = true;
    free(text);
    json_decref(root);
}

void tl_answer_place(const char *what, const char *place)
{
    (void)fflush(stdout); /* what is not written is told at the end */
    tl_tell("%s: %s", what, place);
}

int tl_answer_end(int code)
{
    const bool unwritten = fflush(stdout) != 0 || ferror(stdout);
    if (tl_answer_is_lost && code != TL_EXIT_INTERRUPTED) {
        tl_complain("out of memory: the answer is not whole");
        return TL_EXIT_FAILED;
    }
    if (code != TL_EXIT_DONE && code != TL_EXIT_FAIL_ON)
        return code;
    if (unwritten && tl_interrupted) /* while it waited for the reader */
        return TL_EXIT_INTERRUPTED;
    if (unwritten)
        tl_complain("the answer could not be written to standard output");
    return unwritten ? TL_EXIT_FAILED : code;
}
