/* Reads a run's folder for the page. */
#include "run_data.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance_json.h"
#include "date.h"
#include "json.h"
#include "place.h"
#include "text.h"
#include "towerloop/status.h"

/* Takes in a spread that the run did not know of yet: the worse of the two verdicts holds. */
static int take_spread(struct tl_run_data *d, const struct tl_spread_verdict *v)
{
    const char *own = tl_run_data_text(d, "chance.own_verdict");
    json_t *chance = tl_chance_json(v, *own ? own : d->result.verdict);
    if (!chance || json_object_set_new(d->summary, "chance", chance) != 0)
        return TL_E_MEMORY;
    if (v->grade > d->result.grade) {
        d->result.grade = v->grade;
        tl_format(d->result.verdict, sizeof d->result.verdict, "%s", tl_grade_text(v->grade));
    }
    return TL_OK;
}

int tl_run_data_load(const struct tl_report *r, struct tl_run_data *out, char *why, size_t size)
{
    char *path = tl_place_below(r->folder, "summary.json");
    *out = (struct tl_run_data){.report = r};
    if (!path)
        return TL_E_MEMORY;
    int status = tl_run_result_load(r->folder, &out->result);
    if (status == TL_OK && !(out->summary = tl_json_read(path)))
        status = errno == ENOMEM ? TL_E_MEMORY : errno ? TL_E_IO : TL_E_INPUT;
    if (status == TL_E_IO)
        tl_format(why, size, "%s cannot be read: %s", path, strerror(errno));
    else if (status == TL_E_INPUT)
        tl_format(why, size,
                  "%s holds no results that this version wrote whole; expected those of a run",
                  path);
    free(path);
    return status == TL_OK && r->spread ? take_spread(out, r->spread) : status;
}

void tl_run_data_free(struct tl_run_data *d)
{
    json_decref(d->summary);
    d->summary = NULL;
}

const json_t *tl_run_data_at(const struct tl_run_data *d, const char *path)
{
    const json_t *at = d->summary;
    while (at && *path) {
        char name[64];
        const size_t n = strcspn(path, ".");
        tl_format(name, sizeof name, "%.*s", (int)n, path);
        at = json_object_get(at, name);
        path += n + (path[n] == '.');
    }
    return at;
}

double tl_run_data_number(const struct tl_run_data *d, const char *path)
{
    const json_t *at = tl_run_data_at(d, path);
    return json_is_number(at) ? json_number_value(at) : NAN;
}

const char *tl_run_data_text(const struct tl_run_data *d, const char *path)
{
    const char *text = json_string_value(tl_run_data_at(d, path));
    return text ? text : "";
}

void tl_run_data_time(struct tl_html *h, const struct tl_run_data *d, const char *iso)
{
    struct tl_date date;
    if (!*iso || !tl_date_parse(iso, &date)) {
        tl_html_text(h, "-");
        return;
    }
    tl_html_open(h, "time");
    tl_html_attributef(h, "datetime", "%s", iso);
    /* may be broken between date, clock and day, and nowhere else */
    char part[40];
    tl_format(part, sizeof part, "%04d-%02d-%02d", date.year, date.month, date.day);
    tl_html_classed(h, "span", "figure", part);
    tl_html_text(h, " ");
    tl_format(part, sizeof part, "%02d:%02d", date.second / 3600, date.second / 60 % 60);
    tl_html_classed(h, "span", "figure", part);
    tl_html_close(h);
    tl_html_text(h, ", ");
    tl_format(part, sizeof part, "day %.0f",
              floor(tl_days_since(&d->report->scenario->start, &date)));
    tl_html_classed(h, "span", "figure", part);
}

const char *tl_grade_class(enum tl_grade grade)
{
    return grade == TL_DANGER ? "danger" : grade == TL_CAUTION ? "caution" : "within";
}
