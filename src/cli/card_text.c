/* The emergency card as text of 80 columns. */
#include <string.h>

#include "answer.h"
#include "atomic_file.h"
#include "card_view.h"
#include "page.h"
#include "towerloop/status.h"

enum { LABEL = 41, TIME = 13, WHEN = 20 };

static void say(FILE *f, int indent, const char *text)
{
    struct tl_text t = {0};
    tl_text_add(&t, text);
    tl_answer_say(f, TL_PAGE_LINES, indent, &t);
}

static void heading(FILE *f, const char *text)
{
    fprintf(f, "\n%s\n", text);
    for (size_t i = strlen(text); i > 0; i--)
        fputc('-', f);
    fputc('\n', f);
}

/* The head of the times is a sentence a column, which no column holds. */
static void say_times(FILE *f, const struct tl_card_part *p)
{
    struct tl_text t = {0};
    for (size_t k = 1; k < TL_CARD_COLUMNS; k++) {
        tl_text_add(&t, k > 1 ? "; " : "");
        tl_text_add_text(&t, 0, &p->cell[0][k]);
    }
    tl_text_add(&t, "; each after:");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
    tl_text_add_text(&t, -LABEL, &p->cell[0][0]);
    tl_text_addf(&t, "%*s%*s%*s", TIME, "stress", TIME, "danger", TIME, "death");
    tl_answer_line(f, &t);
    for (size_t i = 1; i < p->rows; i++) {
        tl_text_add_text(&t, -LABEL, &p->cell[i][0]);
        for (size_t k = 1; k < TL_CARD_COLUMNS; k++)
            tl_text_add_text(&t, TIME, &p->cell[i][k]);
        tl_answer_line(f, &t);
    }
}

static void say_part(FILE *f, const struct tl_card *c, enum tl_card_part_id id)
{
    const struct tl_card_part *p = &c->part[id];
    heading(f, tl_card_heading(id));
    if (id == TL_CARD_TIMES) {
        say_times(f, p);
    } else {
        for (size_t i = 0; i < p->rows; i++) {
            struct tl_text t = {0};
            tl_text_add_text(&t, 0, &p->cell[i][0]);
            if (tl_card_columns(id) > 1) {
                tl_text_add(&t, ": ");
                tl_text_add_text(&t, 0, &p->cell[i][1]);
            }
            tl_answer_say(f, TL_PAGE_LINES, 2, &t);
        }
    }
    if (p->note.length > 0)
        say(f, 0, tl_text_string(&p->note));
}

static void say_blanks(FILE *f)
{
    static const char *const label[] = {
#define TEXT(text) text,
        TL_CARD_BLANK_LIST(TEXT)
#undef TEXT
    };
    fputc('\n', f);
    for (size_t i = 0; i < sizeof label / sizeof *label; i++) {
        fprintf(f, "%-*s ", WHEN + 2, label[i]);
        for (int k = WHEN + 3; k < TL_PAGE_COLUMNS; k++)
            fputc('_', f);
        fputc('\n', f);
    }
}

void tl_card_text(const struct tl_card *c, FILE *f)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "EMERGENCY: %s", c->title);
    tl_answer_say(f, 2, 2, &t);
    say(f, 0, tl_text_string(&c->loop));
    for (enum tl_card_part_id id = 0; id < TL_CARD_BASIS; id++)
        say_part(f, c, id);
    say_blanks(f);
    say_part(f, c, TL_CARD_BASIS);
}

int tl_card_write_text(const struct tl_card *c, const char *path)
{
    struct tl_atomic_file file;
    const int status = tl_atomic_open(&file, path);
    if (status != TL_OK)
        return status;
    tl_card_text(c, file.f);
    return tl_atomic_commit(&file);
}
