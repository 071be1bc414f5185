/* The answer of a command on standard output. It must be whole: where memory or the disk runs out on the
 * way, that is said at the end and the command fails, whatever it has printed. */
#ifndef TL_CLI_ANSWER_H
#define TL_CLI_ANSWER_H

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

#include "page.h"

/* A text broken into lines as by tl_page_wrap(), a line as it is, a page. Texts are emptied. */
void tl_answer_say(FILE *f, int max_lines, int indent, struct tl_text *text);
void tl_answer_line(FILE *f, struct tl_text *text);
void tl_answer_page(FILE *f, const struct tl_page *page);
/* `root`, which is taken over, with so many digits; nothing when it is NULL: out of memory. */
void tl_answer_json(json_t *root, size_t digits);

/* "Results: out/pond" on standard error, after all of the answer so far where both go to one place. */
void tl_answer_place(const char *what, const char *place);

/* Something of the answer is missing, for lack of memory. */
extern bool tl_answer_is_lost;
void tl_answer_lost(void);
/* The exit code of a command that came to `code`, once all of standard output is written: a failure is
 * told and takes the place of a success. */
int tl_answer_end(int code);

#endif
