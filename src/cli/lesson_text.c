/* A lesson on the terminal: question, answer, a small chart of letters, a table, the explanation. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "document.h"
#include "lesson_chart.h"
#include "lesson_view.h"
#include "page.h"

enum { CHART_ROWS = 12, CHART_COLUMNS = 64, SCALE = 8, WIDTH = 12, ACROSS = 10, STEPS = 6 };
static const char mark[TL_LESSON_LINES] = {'*', 'o', '+', 'x'};

static void say(FILE *f, int indent, const char *lead, const char *text)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "%s%s", lead, text);
    tl_answer_say(f, TL_PAGE_LINES, indent, &t);
}

/* A text with its numbers. */
static void tell(FILE *f, const struct tl_lesson_told *t, int indent, const char *lead,
                 const char *text)
{
    char *said = tl_lesson_say(t, text);
    if (said)
        say(f, indent, lead, said);
    else
        tl_answer_lost();
    free(said);
}

static void tell_list(FILE *f, const struct tl_lesson_told *t, const char *heading,
                      const struct tl_lesson_texts *texts)
{
    if (texts->n > 0)
        fprintf(f, "\n%s\n", heading);
    for (size_t i = 0; i < texts->n; i++)
        tell(f, t, 2, "- ", texts->text[i]);
}

/* --- the chart -------------------------------------------------------------------------------- */

static double highest_of(const struct tl_lesson_told *t)
{
    double highest = 0;
    for (size_t k = 0; k < t->lesson->chart.lines; k++)
        for (size_t i = 0; i < t->course[k].points; i++)
            highest = fmax(highest, t->course[k].value[i]);
    return highest > 0 ? highest : 1;
}

/* The mean of a course in a column of the chart; NAN where it has no point. */
static double in_column(const struct tl_lesson_told *t, const struct tl_course *c, int column)
{
    const double step = (t->to - t->from) / CHART_COLUMNS;
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < c->points; i++) {
        const int at = (int)fmin((c->across[i] - t->from) / step, CHART_COLUMNS - 1);
        if (at != column || !isfinite(c->value[i]))
            continue;
        sum += c->value[i];
        n++;
    }
    return n > 0 ? sum / (double)n : NAN;
}

/* The rows of letters, the top one first. */
struct drawing {
    char cell[CHART_ROWS + 1][CHART_COLUMNS + 1];
    int rows, rows_a_step; /* above the lowest; between two numbers of the scale */
    double top;
};

static void draw(const struct tl_lesson_told *t, struct drawing *d)
{
    const double highest = highest_of(t), step = tl_lesson_chart_step(highest, STEPS);
    const int steps = (int)ceil(highest / step - 1e-9);
    d->top = steps * step;
    d->rows_a_step = CHART_ROWS / steps;
    d->rows = steps * d->rows_a_step;
    for (int row = 0; row <= d->rows; row++) {
        memset(d->cell[row], ' ', CHART_COLUMNS);
        d->cell[row][CHART_COLUMNS] = '\0';
    }
    for (size_t k = t->lesson->chart.lines; k-- > 0;) /* the first lies on top */
        for (int x = 0; x < CHART_COLUMNS; x++) {
            const double v = in_column(t, &t->course[k], x);
            if (isfinite(v))
                d->cell[d->rows - (int)lround(fmax(v, 0) / d->top * d->rows)][x] = mark[k];
        }
}

static void print_chart(const struct tl_lesson_told *t, FILE *f)
{
    const struct tl_lesson_chart *c = &t->lesson->chart;
    struct drawing d;
    draw(t, &d);
    say(f, 0, "", c->title);
    say(f, 0, "", c->unit);
    for (int row = 0; row <= d.rows; row++) {
        const double at = d.top * (d.rows - row) / d.rows;
        size_t length = CHART_COLUMNS;
        while (length > 0 && d.cell[row][length - 1] == ' ')
            length--;
        fprintf(f, "%*s |%.*s\n", SCALE, row % d.rows_a_step ? "" : tl_figure_of(at).text,
                (int)length, d.cell[row]);
    }
    fprintf(f, "%*s +", SCALE, "");
    for (int x = 0; x < CHART_COLUMNS; x++)
        fputc('-', f);
    fprintf(f, "\n%*s  %-*s%*s\n", SCALE, "", CHART_COLUMNS / 2, tl_figure_of(t->from).text,
            CHART_COLUMNS / 2, tl_figure_of(t->to).text);
    fprintf(f, "%*s  %s\n", SCALE, "", c->across);
    for (size_t k = 0; k < c->lines; k++)
        fprintf(f, "%*s  %c %s\n", SCALE, "", mark[k], c->line[k].name);
    if (c->lines > 1)
        fprintf(f, "%*s  Where lines meet, the one named first is shown.\n", SCALE, "");
}

/* --- the table -------------------------------------------------------------------------------- */

/* A heading on as many lines as it needs, `WIDTH` columns each, beside its fellows. */
static void print_heads(const struct tl_lesson_chart *c, FILE *f)
{
    const char *rest[TL_LESSON_LINES + 1] = {c->across};
    bool more = true;
    for (size_t k = 0; k < c->lines; k++)
        rest[k + 1] = c->line[k].name;
    while (more) {
        struct tl_text line = {0};
        int column = 0;
        more = false;
        for (size_t k = 0; k <= c->lines; k++) {
            const int room = k == 0 ? ACROSS : WIDTH;
            size_t n = strlen(rest[k]);
            if ((int)n > room)
                for (n = (size_t)room; n > 0 && rest[k][n] != ' ';)
                    n--;
            n = n > 0 ? n : strlen(rest[k]);
            if (n > 0) { /* no blanks at the end of a line */
                tl_text_addf(&line, "%*s", column - (int)line.length, "");
                tl_text_addf(&line, "%*.*s", room, (int)n, rest[k]);
            }
            column += room + 2;
            rest[k] += n + (rest[k][n] == ' ');
            more = more || *rest[k];
        }
        tl_answer_line(f, &line);
    }
}

static void print_table(const struct tl_lesson_told *t, FILE *f)
{
    const struct tl_lesson_chart *c = &t->lesson->chart;
    print_heads(c, f);
    for (size_t row = 0; row < c->rows; row++) {
        fprintf(f, "%*s", ACROSS, tl_figure_of(tl_lesson_row(t, row)).text);
        for (size_t k = 0; k < c->lines; k++)
            fprintf(f, "  %*s", WIDTH, tl_figure_of(tl_lesson_cell(t, k, row)).text);
        fputc('\n', f);
    }
}

/* --- question and answer ---------------------------------------------------------------------- */

void tl_lesson_print_question(const struct tl_lesson *l, FILE *f)
{
    char lead[16];
    say(f, 0, "", l->title);
    fputc('\n', f);
    say(f, 0, "", l->question);
    for (size_t i = 0; i < l->choice.n; i++) {
        tl_format(lead, sizeof lead, "  %zu  ", i + 1);
        say(f, 5, lead, l->choice.text[i]);
    }
}

/* Broken in front of its options where it is too long, so that it can be pasted into a shell. */
static void print_command(const char *command, FILE *f)
{
    int column = 2;
    fputs("  ", f);
    for (const char *option; *command; command = option) {
        option = strstr(command + 1, " --");
        if (!option)
            option = command + strlen(command);
        const int length = (int)(option - command);
        if (column > 2 && column + length > TL_PAGE_COLUMNS - 2) {
            fputs(" \\\n ", f);
            column = 1;
        }
        fprintf(f, "%.*s", length, command);
        column += length;
    }
    fputc('\n', f);
}

static void print_why(const struct tl_lesson_task *t, bool teacher, FILE *f)
{
    const struct tl_lesson *l = t->lesson;
    fprintf(f, "\nWhy\n");
    for (size_t i = 0; i < l->explain.n; i++)
        tell(f, &t->told, 0, "", l->explain.text[i]);
    tell_list(f, &t->told, "In numbers", &l->equation);
    if (teacher)
        tell_list(f, &t->told, "For the teacher", &l->teacher);
    fprintf(f, "\nChange something\n");
    tell(f, &t->told, 0, "", l->look);
    print_command(t->command, f);
    tell_list(f, &t->told, "Sources", &l->source);
}

static void print_right(const struct tl_lesson_task *t, const char *lead, FILE *f)
{
    tell(f, &t->told, 0, lead, t->lesson->choice.text[t->lesson->answer - 1]);
}

void tl_lesson_print_answer(const struct tl_lesson_task *t, unsigned answer, FILE *f)
{
    const struct tl_lesson *l = t->lesson;
    char lead[64];
    fputc('\n', f);
    if (answer == l->answer)
        tl_format(lead, sizeof lead, "You said %u, and so it came out: ", answer);
    else if (answer > 0)
        tl_format(lead, sizeof lead,
                  "You said %u; it came out otherwise. The answer is %u: ", answer, l->answer);
    else
        tl_format(lead, sizeof lead, "The answer is %u: ", l->answer);
    print_right(t, lead, f);
    fputc('\n', f);
    print_chart(&t->told, f);
    fputc('\n', f);
    print_table(&t->told, f);
    print_why(t, false, f);
}

void tl_lesson_print_teacher(const struct tl_lesson_task *t, FILE *f)
{
    char lead[64];
    tl_lesson_print_question(t->lesson, f);
    tl_format(lead, sizeof lead, "The answer is %u: ", t->lesson->answer);
    print_right(t, lead, f);
    fputc('\n', f);
    print_table(&t->told, f);
    print_why(t, true, f);
    fprintf(f, "\n\n");
}

void tl_lesson_print_glossary(const struct tl_glossary *g, FILE *f)
{
    fprintf(f, "Words\n");
    for (const struct tl_node *c = g->root->first; c; c = c->next) {
        struct tl_text line = {0};
        tl_text_addf(&line, "- %s: %s", c->key, c->text);
        tl_answer_say(f, TL_PAGE_LINES, 2, &line);
    }
}
