/* Lessons as one page that works without script: the answer lies in a part that is folded away. */
#include "lesson_page.h"

#include <stdlib.h>
#include <string.h>

#include "document.h"
#include "page_file.h"
#include "parts.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

static const struct tl_document_kind learners = {
    "lesson", "Skip to the question",
    "Not on paper: the answer. It stands in the page itself, below the question."};
static const struct tl_document_kind teachers = {"answers", "Skip to the answers",
                                                 "For the teacher: with all answers."};

/* Texts with their numbers, each an element. */
static bool add_said(struct tl_html *h, const struct tl_lesson_told *t, const char *tag,
                     const char *text)
{
    char *said = tl_lesson_say(t, text);
    if (said)
        tl_html_element(h, tag, said);
    free(said);
    return said != NULL;
}

static bool add_list(struct tl_html *h, const struct tl_lesson_told *t, const char *list,
                     const struct tl_lesson_texts *texts)
{
    bool whole = true;
    tl_html_open(h, list);
    for (size_t i = 0; i < texts->n && whole; i++)
        whole = add_said(h, t, "li", texts->text[i]);
    tl_html_close(h);
    return whole;
}

static bool add_paragraphs(struct tl_html *h, const struct tl_lesson_told *t,
                           const struct tl_lesson_texts *texts)
{
    bool whole = true;
    for (size_t i = 0; i < texts->n && whole; i++)
        whole = add_said(h, t, "p", texts->text[i]);
    return whole;
}

/* --- the chart and its numbers ---------------------------------------------------------------- */

/* Over numbers, so on their side. */
static void add_heads(struct tl_html *h, const struct tl_lesson_chart *c)
{
    tl_html_open(h, "thead");
    tl_html_open(h, "tr");
    for (size_t k = 0; k <= c->lines; k++) {
        tl_html_open(h, "th");
        tl_html_attribute(h, "scope", "col");
        tl_html_attribute(h, "class", "number");
        tl_html_text(h, k > 0 ? c->line[k - 1].name : c->across);
        tl_html_close(h);
    }
    tl_html_close(h);
    tl_html_close(h);
    tl_html_open(h, "tbody");
}

static void add_table(struct tl_html *h, const struct tl_lesson_told *t)
{
    const struct tl_lesson_chart *c = &t->lesson->chart;
    char id[64], caption[256];
    tl_format(id, sizeof id, "%s-numbers", t->lesson->name);
    tl_format(caption, sizeof caption, "%s, %s", c->title, c->unit);
    tl_table_begin(h, id, caption);
    add_heads(h, c);
    for (size_t row = 0; row < c->rows; row++) {
        tl_html_open(h, "tr");
        tl_table_number(h, tl_lesson_row(t, row));
        for (size_t k = 0; k < c->lines; k++)
            tl_table_number(h, tl_lesson_cell(t, k, row));
        tl_html_close(h);
    }
    tl_table_end(h);
}

static int add_chart(struct tl_html *h, const struct tl_lesson_told *t, const char *charts)
{
    const struct tl_report r = {.charts = charts};
    int status = TL_OK;
    if (charts) {
        status = tl_part_picture(h, &r, t->lesson->name, t->lesson->chart.title,
                                 "The numbers stand in the table below.");
        tl_html_close(h);
    }
    add_table(h, t);
    return status == TL_E_MEMORY ? status : TL_OK;
}

/* --- one lesson ------------------------------------------------------------------------------- */

static bool add_question(struct tl_html *h, const struct tl_lesson_told *t)
{
    return add_said(h, t, "p", t->lesson->question) && add_list(h, t, "ol", &t->lesson->choice);
}

static bool add_right(struct tl_html *h, const struct tl_lesson_told *t)
{
    char *said = tl_lesson_say(t, t->lesson->choice.text[t->lesson->answer - 1]);
    if (!said)
        return false;
    tl_html_open(h, "p");
    tl_html_open(h, "b");
    tl_html_textf(h, "The answer is %u: %s", t->lesson->answer, said);
    tl_html_close(h);
    tl_html_close(h);
    free(said);
    return true;
}

static int add_answer(struct tl_html *h, const struct tl_lesson_page *p, size_t i)
{
    const struct tl_lesson_told *t = &p->told[i];
    if (!add_right(h, t))
        return TL_E_MEMORY;
    const int status = add_chart(h, t, p->charts);
    if (status != TL_OK)
        return status;
    tl_html_element(h, "h3", "Why");
    bool whole = add_paragraphs(h, t, &t->lesson->explain);
    if (whole && t->lesson->equation.n > 0) {
        tl_html_element(h, "h3", "In numbers");
        whole = add_list(h, t, "ul", &t->lesson->equation);
    }
    if (whole && p->glossary && t->lesson->teacher.n > 0) {
        tl_html_element(h, "h3", "For the teacher");
        whole = add_list(h, t, "ul", &t->lesson->teacher);
    }
    tl_html_element(h, "h3", "Change something");
    whole = whole && add_said(h, t, "p", t->lesson->look);
    tl_html_open(h, "pre");
    tl_html_element(h, "code", p->command[i]);
    tl_html_close(h);
    tl_html_element(h, "h3", "Sources");
    whole = whole && add_list(h, t, "ul", &t->lesson->source);
    return whole ? TL_OK : TL_E_MEMORY;
}

/* --- pages ------------------------------------------------------------------------------------ */

static int write_learners(struct tl_html *h, const struct tl_lesson_page *p)
{
    static const struct tl_document_part part[] = {{"question", "The question"},
                                                   {"answer", "What came out"}};
    const struct tl_lesson_told *t = p->told;
    tl_document_begin_as(h, &learners, t->lesson->title,
                         "Read the question, choose, write your choice down; then open the answer.",
                         part, 2);
    tl_document_section(h, &part[0]);
    const bool whole = add_question(h, t);
    tl_html_close(h);
    tl_document_section(h, &part[1]);
    tl_html_open(h, "details");
    tl_html_element(h, "summary", "Show the answer");
    const int status = whole ? add_answer(h, p, 0) : TL_E_MEMORY;
    tl_html_close(h);
    tl_html_close(h);
    return status;
}

static void add_glossary(struct tl_html *h, const struct tl_glossary *g)
{
    tl_html_open(h, "dl");
    for (const struct tl_node *c = g->root->first; c; c = c->next) {
        tl_html_element(h, "dt", c->key);
        tl_html_element(h, "dd", c->text);
    }
    tl_html_close(h);
}

static int write_teachers(struct tl_html *h, const struct tl_lesson_page *p)
{
    struct tl_document_part *part = calloc(p->lessons + 1, sizeof *part);
    int status = part ? TL_OK : TL_E_MEMORY;
    for (size_t i = 0; i < p->lessons && status == TL_OK; i++)
        part[i] = (struct tl_document_part){p->told[i].lesson->name, p->told[i].lesson->title};
    if (status == TL_OK) {
        part[p->lessons] = (struct tl_document_part){"glossary", "Words"};
        tl_document_begin_as(h, &teachers, "The lessons, with their answers",
                             "For the teacher. All numbers are those of the runs just made.", part,
                             p->lessons + 1);
    }
    for (size_t i = 0; i < p->lessons && status == TL_OK; i++) {
        tl_document_section(h, &part[i]);
        status = add_question(h, &p->told[i]) ? add_answer(h, p, i) : TL_E_MEMORY;
        tl_html_close(h);
    }
    if (status == TL_OK) {
        tl_document_section(h, &part[p->lessons]);
        add_glossary(h, p->glossary);
        tl_html_close(h);
    }
    free(part);
    return status;
}

int tl_lesson_page_write(const struct tl_lesson_page *p, const char *path, char why[TL_LESSON_WHY])
{
    struct tl_html h = {.depth = 0};
    struct tl_build build;
    *why = '\0';
    tl_build_info(&build);
    int status = p->glossary ? write_teachers(&h, p) : write_learners(&h, p);
    if (status == TL_OK) {
        tl_document_end_as(&h, p->glossary ? &teachers : &learners, build.version, build.commit);
        status = tl_page_file_write(&h, path, why, TL_LESSON_WHY);
    }
    tl_html_free(&h);
    return status;
}
