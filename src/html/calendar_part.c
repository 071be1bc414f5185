/* The calendar of a run's folder: each job once, from when to when and how often. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "document.h"
#include "parts.h"
#include "place.h"
#include "recorded.h"
#include "text.h"
#include "towerloop/status.h"

#define CALENDAR "calendar.csv"
#define LARGEST  ((size_t)16 << 20)

enum { TIME, WHAT, WHY, WANTED };
static const char *const wanted[WANTED] = {"time_iso", "what", "why"};

struct job {
    const char *what, *why;
    const char *first, *last; /* dates or times */
    size_t times;
    size_t row; /* its first */
};

struct calendar {
    char *text; /* of the file; its cells are cut in place */
    int place[WANTED];
    struct job *job; /* at first one a row, then each once */
    size_t jobs, room;
};

/* The next line, its end cut off; NULL after the last. */
static char *next_line(char **rest)
{
    char *line = *rest;
    if (!line || !*line)
        return NULL;
    char *end = line + strcspn(line, "\n");
    *rest = *end ? end + 1 : NULL;
    *end = '\0';
    return line;
}

static void read_header(struct calendar *c, char *line)
{
    for (int k = 0; k < WANTED; k++)
        c->place[k] = -1;
    int n = 0;
    for (char *cell; (cell = tl_recorded_cell(&line)); n++)
        for (int k = 0; k < WANTED; k++)
            if (strcmp(cell, wanted[k]) == 0)
                c->place[k] = n;
}

static int add_row(struct calendar *c, char *line)
{
    const char *cell[WANTED] = {"", "", ""};
    int n = 0;
    for (char *found; (found = tl_recorded_cell(&line)); n++)
        for (int k = 0; k < WANTED; k++)
            if (c->place[k] == n)
                cell[k] = found;
    if (c->jobs == c->room) {
        const size_t room = c->room ? 2 * c->room : 64;
        struct job *more = realloc(c->job, room * sizeof *more);
        if (!more)
            return TL_E_MEMORY;
        c->job = more;
        c->room = room;
    }
    c->job[c->jobs] = (struct job){cell[WHAT], cell[WHY], cell[TIME], cell[TIME], 1, c->jobs};
    c->jobs++;
    return TL_OK;
}

static int compare_jobs(const struct job *x, const struct job *y)
{
    const int order = strcmp(x->what, y->what);
    return order ? order : strcmp(x->why, y->why);
}

static int by_job(const void *a, const void *b)
{
    const struct job *x = a, *y = b;
    const int order = compare_jobs(x, y);
    return order ? order : (x->row > y->row) - (x->row < y->row);
}

static int by_row(const void *a, const void *b)
{
    const struct job *x = a, *y = b;
    return (x->row > y->row) - (x->row < y->row);
}

/* Each job once, in the order of their first rows. By sorting: there may be many. */
static void gather(struct calendar *c)
{
    size_t n = 0;
    if (c->jobs == 0)
        return;
    qsort(c->job, c->jobs, sizeof *c->job, by_job);
    for (size_t i = 1; i < c->jobs; i++) {
        if (compare_jobs(&c->job[n], &c->job[i]) == 0) {
            c->job[n].last = c->job[i].last;
            c->job[n].times++;
        } else {
            c->job[++n] = c->job[i];
        }
    }
    c->jobs = n + 1;
    qsort(c->job, c->jobs, sizeof *c->job, by_row);
}

/* "2027-05-28T10:00:00" without the seconds and with a blank. */
static void write_time(struct tl_html *h, const char *iso)
{
    const bool clock = strlen(iso) > 10 && iso[10] == 'T';
    char part[16];
    tl_format(part, sizeof part, "%.10s", iso);
    tl_html_classed(h, "span", "figure", part);
    if (!clock)
        return;
    tl_html_text(h, " ");
    tl_format(part, sizeof part, "%.5s", iso + 11);
    tl_html_classed(h, "span", "figure", part);
}

static void write_job(struct tl_html *h, const struct job *j)
{
    tl_html_open(h, "tr");
    tl_html_open(h, "th");
    tl_html_attribute(h, "scope", "row");
    write_time(h, j->first);
    if (j->times > 1) {
        tl_html_text(h, " to ");
        write_time(h, j->last);
        tl_html_textf(h, ", %zu times", j->times);
    }
    tl_html_close(h);
    tl_html_users(h, "td", j->what);
    tl_html_users(h, "td", j->why);
    tl_html_close(h);
}

static void write_table(struct tl_html *h, const struct calendar *c, enum tl_unit_system units)
{
    static const char *const heading[] = {"When", "What", "Why"};
    tl_table_begin(h, "jobs-table", "What is due, and when");
    tl_table_head(h, heading, sizeof heading / sizeof *heading);
    for (size_t i = 0; i < c->jobs; i++)
        write_job(h, &c->job[i]);
    tl_table_end(h);
    tl_html_classed(h, "p", "note",
                    units == TL_US
                        ? "The file calendar.csv has every date, calendar.ics is for the calendar "
                          "of a telephone. Amounts and temperatures are metric there and here."
                        : "The file calendar.csv has every date, calendar.ics is for the calendar "
                          "of a telephone.");
}

static int read_jobs(struct calendar *c)
{
    char *rest = c->text, *line = next_line(&rest);
    int status = TL_OK;
    if (line)
        read_header(c, line);
    while (status == TL_OK && (line = next_line(&rest)))
        status = add_row(c, line);
    gather(c);
    return status;
}

int tl_part_calendar(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size)
{
    struct calendar c = {.text = NULL};
    size_t length = 0;
    errno = 0;
    char *path = tl_place_below(d->report->folder, CALENDAR);
    int status = path ? tl_read_plain_file(path, LARGEST, &c.text, &length) : TL_E_MEMORY;
    if (status == TL_OK)
        status = read_jobs(&c);
    else if (status == TL_E_IO && errno == ENOENT) /* runs of a comparison have none */
        status = TL_OK;
    else if (status != TL_E_MEMORY)
        tl_format(why, size, "%s cannot be read: %s", path,
                  status == TL_E_IO ? strerror(errno) : tl_status_text(status));
    if (status == TL_OK && c.jobs > 0)
        write_table(h, &c, d->report->units);
    else
        tl_html_element(h, "p", "This run has no calendar of jobs.");
    free(c.job);
    free(c.text);
    free(path);
    return status;
}
