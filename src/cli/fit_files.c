/* A fit as files: names are only ever added. Values are in base units. */
#include <jansson.h>
#include <math.h>

#include "atomic_file.h"
#include "fit_view.h"
#include "json.h"
#include "number.h"
#include "towerloop/status.h"

#define FIT_FORMAT 1
#define DIGITS     10

static const char *const use_name[] = {[TL_FIT_USED] = "used",
                                       [TL_FIT_HELD] = "held back",
                                       [TL_FIT_NO_RUN] = "outside the run",
                                       [TL_FIT_NO_WATER] = "no water there",
                                       [TL_FIT_REPEATED] = "repeated"};
static const char *const kind_name[] = {[TL_MEASURED_AT] = "",
                                        [TL_MEASURED_BELOW] = "<",
                                        [TL_MEASURED_ABOVE] = ">",
                                        [TL_MEASURED_BETWEEN] = "-"};

static void put_number(FILE *f, double value)
{
    char text[TL_NUMBER_SIZE];
    (void)tl_number_write(text, value);
    fprintf(f, ",%s", text);
}

static void put_when(FILE *f, const struct tl_scenario *s, double t_d)
{
    char text[TL_NUMBER_SIZE], iso[20];
    const struct tl_date d = tl_date_at(&s->start, t_d);
    tl_date_iso(&d, iso, sizeof iso);
    (void)tl_number_write(text, t_d);
    fprintf(f, "%s,%s", text, iso);
}

static void put_what(FILE *f, enum tl_measured_quantity quantity, enum tl_measured_place place)
{
    const struct tl_measured_row *row = tl_measured_row(quantity);
    fprintf(f, ",%s,%s,%s", tl_measured_place_word(place), row->word, tl_dim_base_unit(row->dim));
}

int tl_fit_write_residuals(const struct tl_fit *f, const struct tl_scenario *s, const char *path)
{
    struct tl_atomic_file file;
    int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "time_d,time_iso,place,quantity,unit,kind,low,high,error,use,before,after,"
                    "residual_before,residual_after,residual_tried,weight\n");
    for (size_t i = 0; i < f->log->rows; i++) {
        const struct tl_measured *m = &f->log->row[i];
        const struct tl_fit_point *p = &f->point[i];
        put_when(file.f, s, m->t_d);
        put_what(file.f, m->quantity, m->place);
        fprintf(file.f, ",%s", kind_name[m->kind]);
        put_number(file.f, m->low);
        put_number(file.f, m->high);
        put_number(file.f, p->error);
        fprintf(file.f, ",%s", use_name[p->use]);
        put_number(file.f, p->before);
        put_number(file.f, p->after);
        put_number(file.f, p->off_before);
        put_number(file.f, p->off_after);
        put_number(file.f, p->tried);
        put_number(file.f, p->use <= TL_FIT_HELD && f->n > 0 ? p->weight : NAN);
        fprintf(file.f, "\n");
    }
    return tl_atomic_commit(&file);
}

int tl_fit_write_forecast(const struct tl_fit *f, const struct tl_scenario *s, const char *path)
{
    struct tl_atomic_file file;
    int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "time_d,time_iso,place,quantity,unit,value,low,high,read_low,read_high\n");
    for (size_t i = 0; i < f->forecasts; i++) {
        const struct tl_fit_forecast *c = &f->forecast[i];
        put_when(file.f, s, c->t_d);
        put_what(file.f, c->quantity, c->place);
        put_number(file.f, c->value);
        put_number(file.f, c->low);
        put_number(file.f, c->high);
        put_number(file.f, c->read_low);
        put_number(file.f, c->read_high);
        fprintf(file.f, "\n");
    }
    return tl_atomic_commit(&file);
}

/* --- JSON --------------------------------------------------------------------------------------- */

static json_t *fitted_array(const struct tl_fit *f)
{
    json_t *array = json_array();
    for (size_t j = 0; j < f->n; j++) {
        const struct tl_fit_quantity *q = &f->quantity[f->fitted[j]];
        const struct tl_squares_result *r = &f->result;
        const struct tl_fit_interval i = tl_fit_interval(f, j);
        json_t *like = json_object();
        for (size_t k = 0; k < f->n; k++)
            tl_json_put(&like, f->quantity[f->fitted[k]].path,
                        tl_json_number(r->correlation[j][k]));
        tl_json_append(
            &array,
            json_pack("{s:s, s:s, s:f, s:f, s:f, s:f, s:b, s:b, s:b, s:[f, f], s:f, s:[f, f], "
                      "s:s, s:o}",
                      "key", q->path, "unit", tl_dim_base_unit(q->dim), "before", q->given, "value",
                      r->x[j], "low", i.low, "high", i.high, "at_end_of_range",
                      (int)tl_fit_at_end(f, j), "low_open", (int)i.low_open, "high_open",
                      (int)i.high_open, "linearised", r->low[j], r->high[j], "standard_error",
                      r->error[j], "range", q->range.low, q->range.high, "range_source", q->source,
                      "correlation", like));
    }
    return array;
}

static json_t *fixed_array(const struct tl_fit *f)
{
    json_t *array = json_array();
    for (size_t j = 0; j < f->quantities; j++) {
        const struct tl_fit_quantity *q = &f->quantity[j];
        if (q->chosen)
            continue;
        tl_json_append(
            &array,
            json_pack("{s:s, s:s, s:f, s:o, s:o, s:b}", "key", q->path, "unit",
                      tl_dim_base_unit(q->dim), "value", q->given, "half_interval_of_range",
                      tl_json_number(q->told), "not_told_from",
                      q->not_from < 0 ? json_null() : json_string(f->quantity[q->not_from].path),
                      "any_value_fits", (int)q->taken_back));
    }
    return array;
}

static json_t *forecast_array(const struct tl_fit *f)
{
    json_t *array = json_array();
    for (size_t i = 0; i < f->forecasts; i++) {
        const struct tl_fit_forecast *c = &f->forecast[i];
        const struct tl_measured_row *row = tl_measured_row(c->quantity);
        tl_json_append(&array,
                       json_pack("{s:f, s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o}", "time_d", c->t_d,
                                 "place", tl_measured_place_word(c->place), "quantity", row->word,
                                 "unit", tl_dim_base_unit(row->dim), "value",
                                 tl_json_number(c->value), "low", tl_json_number(c->low), "high",
                                 tl_json_number(c->high), "read_low", tl_json_number(c->read_low),
                                 "read_high", tl_json_number(c->read_high)));
    }
    return array;
}

static json_int_t count(const struct tl_fit *f, enum tl_fit_use use)
{
    json_int_t n = 0;
    for (size_t i = 0; i < f->log->rows; i++)
        n += f->point[i].use == use;
    return n;
}

int tl_fit_write_json(const struct tl_fit *f, const struct tl_scenario *s, const char *path)
{
    json_t *readings = json_pack(
        "{s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "used", (json_int_t)f->used, "held_back",
        (json_int_t)f->held, "outside_run", count(f, TL_FIT_NO_RUN), "no_water",
        count(f, TL_FIT_NO_WATER), "repeated", count(f, TL_FIT_REPEATED), "wild_and_worse",
        (json_int_t)tl_fit_wild_and_worse(f), "blank", (json_int_t)f->log->blank);
    json_t *off = json_pack("{s:o, s:o, s:o, s:o}", "before", tl_json_number(f->rms_before),
                            "after", tl_json_number(f->rms_after), "held_back_before",
                            tl_json_number(f->rms_held_before), "held_back_tried",
                            tl_json_number(f->rms_held_tried));
    json_t *root = json_pack(
        "{s:s, s:o, s:o, s:o, s:o, s:s, s:s, s:b, s:i, s:b, s:o, s:I, s:o}", "scenario", s->title,
        "fitted", fitted_array(f), "fixed", fixed_array(f), "readings", readings,
        "rms_in_standard_errors", off, "interval",
        f->profile.complete ? "90 %, profile likelihood" : "90 %, linearised, Student's t",
        "forecast_interval", "90 %, linearised", "sound", (int)tl_fit_is_sound(f),
        "lower_minima_met", (int)f->profile.improved, "converged",
        (int)(f->n > 0 && f->result.converged), "variance_scale",
        tl_json_number(f->n > 0 ? f->result.scale : NAN), "runs", (json_int_t)f->runs, "forecast",
        forecast_array(f));
    return tl_json_write(tl_json_result(FIT_FORMAT, root), path,
                         JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS));
}
