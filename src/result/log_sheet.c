/* A blank log: its pages and its CSV. */
#include "log_sheet.h"

#include <math.h>
#include <stddef.h>

#include "page.h"
#include "towerloop/measured.h"
#include "towerloop/status.h"
#include "towerloop/upkeep.h"

#define TESTS_A_PAGE 14
#define MOST_JOBS    10         /* of a page */
#define AT_D         (8.0 / 24) /* of a test, before the first meal; common practice */
#define WEEK_D       7

/* The tests of a scenario, and what else it plans. */
struct sheet {
    const struct tl_scenario *s;
    enum tl_unit_system units;
    struct tl_jobs jobs;
    size_t tests;
    struct tl_text *out;
};

static int begin(struct sheet *p)
{
    const struct tl_setup *u = &p->s->setup;
    int status = tl_jobs_make(p->s, NULL, NAN, u->start_d + u->length_d, &p->jobs);
    for (size_t i = 0; status == TL_OK && i < p->jobs.n; i++)
        p->tests += p->jobs.job[i].kind == TL_JOB_TEST;
    return status;
}

static int end(struct sheet *p)
{
    tl_jobs_free(&p->jobs);
    return p->out->failed ? TL_E_MEMORY : TL_OK;
}

/* "05-13 d12" */
struct day {
    char text[48];
};

static struct day day(const struct sheet *p, double t_d)
{
    struct day d;
    const struct tl_date date = tl_date_at(&p->s->start, t_d);
    tl_format(d.text, sizeof d.text, "%02d-%02d d%.0f", date.month, date.day, floor(t_d));
    return d;
}

/* --- the pages -------------------------------------------------------------------------------------- */

static const struct {
    const char *name;
    int width;
} columns[] = {
    {"date", 10},   {"time", 5},    {"temp.", 5},  {"pH", 4},     {"ammonia", 7},
    {"nitrite", 7}, {"nitrate", 7}, {"alkal.", 6}, {"oxygen", 6}, {"feed, notes", 12},
};
enum { COLUMNS = sizeof columns / sizeof *columns };

static void add_rule(struct tl_text *t)
{
    for (int c = 0; c < COLUMNS; c++) {
        tl_text_add(t, "+");
        for (int i = 0; i < columns[c].width; i++)
            tl_text_add(t, "-");
    }
    tl_text_add(t, "+\n");
}

/* A row with `first` in its first column; NULL: the columns' names. */
static void add_row(struct tl_text *t, const char *first)
{
    for (int c = 0; c < COLUMNS; c++)
        tl_text_addf(t, "|%-*s", columns[c].width, !first ? columns[c].name : c == 0 ? first : "");
    tl_text_add(t, "|\n");
}

/* A text cut to a line; it is emptied. */
static void add_line(struct tl_text *t, struct tl_text *text)
{
    struct tl_page page = {.lines = 0};
    tl_page_put(&page, 1, 0, text);
    tl_text_addf(t, "%s\n", page.lines > 0 ? page.line[0] : "");
    t->failed = t->failed || page.failed;
}

static void add_head(struct sheet *p, size_t page, size_t pages, double from_d)
{
    const struct tl_date from = tl_date_at(&p->s->start, from_d);
    struct tl_text line = {0};
    tl_text_addf(&line, "Log: %s", p->s->title && *p->s->title ? p->s->title : "(no title)");
    add_line(p->out, &line);
    tl_text_addf(
        p->out, "Page %zu of %zu, from %04d-%02d-%02d. Water of the tank, before the first meal.\n",
        page + 1, pages, from.year, from.month, from.day);
    tl_text_addf(p->out, "Temperature in %s, oxygen in mg/L. As the kits count:\n",
                 tl_display_unit(TL_DIM_TEMPERATURE, p->units));
    tl_text_add(p->out, "ammonia as ________  nitrite as ________  nitrate as ________  "
                        "alkal. in _______\n");
}

/* What the scenario plans from one instant to another. */
static void add_jobs(struct sheet *p, double from_d, double to_d)
{
    size_t n = 0;
    for (size_t i = 0; i < p->jobs.n; i++) {
        const struct tl_job *j = &p->jobs.job[i];
        struct tl_text line = {0};
        if (j->kind == TL_JOB_TEST || j->t_d < from_d || !(j->t_d < to_d) || n++ >= MOST_JOBS)
            continue;
        tl_text_addf(&line, "[ ] %s %s", day(p, j->t_d).text, tl_job_words(p->s, j, p->units).what);
        add_line(p->out, &line);
    }
    if (n > MOST_JOBS)
        tl_text_addf(p->out, "and %zu more of the scenario's jobs\n", n - MOST_JOBS);
}

/* From test number `first` on; `to_d` is where the next page begins. */
static void add_page(struct sheet *p, size_t first, double *from_d)
{
    size_t number = 0;
    double to_d = INFINITY;
    add_head(p, first / TESTS_A_PAGE, (p->tests + TESTS_A_PAGE - 1) / TESTS_A_PAGE, *from_d);
    add_rule(p->out);
    add_row(p->out, NULL);
    add_rule(p->out);
    for (size_t i = 0; i < p->jobs.n; i++) {
        if (p->jobs.job[i].kind != TL_JOB_TEST)
            continue;
        if (number == first + TESTS_A_PAGE)
            to_d = p->jobs.job[i].t_d;
        if (number >= first && number < first + TESTS_A_PAGE) {
            add_row(p->out, day(p, p->jobs.job[i].t_d).text);
            add_row(p->out, "");
            add_rule(p->out);
        }
        number++;
    }
    add_jobs(p, *from_d, to_d);
    *from_d = to_d;
}

int tl_log_sheet_text(const struct tl_scenario *s, enum tl_unit_system units, struct tl_text *out)
{
    struct sheet p = {.s = s, .units = units, .out = out};
    double from_d = 0;
    int status = begin(&p);
    if (status != TL_OK)
        return status;
    for (size_t first = 0; first < p.tests; first += TESTS_A_PAGE) {
        if (first > 0)
            tl_text_add(out, "\f");
        add_page(&p, first, &from_d);
    }
    return end(&p);
}

/* --- the CSV ----------------------------------------------------------------------------------------- */

static void add_readings(struct sheet *p, double t_d, bool weekly)
{
    static const struct {
        enum tl_measured_quantity quantity;
        bool daily;
    } kit[] = {
        {TL_MEASURED_TEMPERATURE, true}, {TL_MEASURED_PH, true},   {TL_MEASURED_TAN, true},
        {TL_MEASURED_NO2, true},         {TL_MEASURED_NO3, false}, {TL_MEASURED_ALKALINITY, false},
        {TL_MEASURED_O2, false},
    };
    for (size_t k = 0; k < sizeof kit / sizeof *kit; k++) {
        const struct tl_measured m = {.t_d = t_d, .quantity = kit[k].quantity};
        if (kit[k].daily || weekly)
            tl_measured_add(p->out, &m, &p->s->start, p->units, true);
    }
}

int tl_log_sheet_csv(const struct tl_scenario *s, enum tl_unit_system units, struct tl_text *out)
{
    struct sheet p = {.s = s, .units = units, .out = out};
    double last = -WEEK_D;
    int status = begin(&p);
    if (status != TL_OK)
        return status;
    tl_measured_add_header(out);
    for (size_t i = 0; i < p.jobs.n; i++) {
        const double day_d = p.jobs.job[i].t_d;
        if (p.jobs.job[i].kind != TL_JOB_TEST)
            continue;
        const bool weekly = day_d >= last + WEEK_D;
        add_readings(&p, fmax(day_d + AT_D, s->setup.start_d), weekly);
        last = weekly ? day_d : last;
    }
    return end(&p);
}
