/* Draws the charts of a run: reads series.csv, writes thinned data and what the scripts of plots/ load
 * into a folder of its own, lets gnuplot draw there, checks the pictures and puts them in place. */
#include "towerloop/chart.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "drawing.h"
#include "gnuplot.h"
#include "picture.h"
#include "plan.h"
#include "plots.h"
#include "posix.h"
#include "text.h"
#include "thin.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

enum { POINTS = 4000, TRAY_POINTS = 500, MOST_BANDS = 1300 };
#define BAND_FROM_D  20.0 /* from this length on, days melt into a band with a mean line */
#define TIME_LIMIT_S 60.0

int tl_drawing_fail(struct tl_drawing *d, int status, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(d->outcome->fault, sizeof d->outcome->fault, format, args);
    va_end(args);
    return status;
}

static int no_memory(struct tl_drawing *d)
{
    return tl_drawing_fail(d, TL_E_MEMORY, "out of memory while drawing the charts");
}

static char *join(const char *folder, const char *name)
{
    struct tl_text path = {0};
    tl_text_addf(&path, "%s/%s", folder, name);
    if (path.failed)
        tl_text_free(&path);
    return path.data;
}

FILE *tl_drawing_open(struct tl_drawing *d, const char *format, ...)
{
    char name[128];
    va_list args;
    va_start(args, format);
    vsnprintf(name, sizeof name, format, args);
    va_end(args);
    char *path = join(d->folder, name);
    FILE *f = path ? fopen(path, "we") : NULL;
    free(path);
    return f;
}

int tl_drawing_close(struct tl_drawing *d, FILE *f)
{
    bool bad = !f || ferror(f);
    if (f && fclose(f))
        bad = true;
    return bad ? tl_drawing_fail(d, TL_E_IO, "%s: cannot write: %s", d->folder, strerror(errno))
               : TL_OK;
}

/* --- columns ------------------------------------------------------------------------------- */

/* Adds a column, taking over `value`. */
static int add_column(struct tl_drawing *d, const char *name, double *value)
{
    char *copy = strdup(name);
    char **names = realloc(d->run.name, (d->run.columns + 1) * sizeof *names);
    if (names)
        d->run.name = names;
    double **values = realloc(d->run.value, (d->run.columns + 1) * sizeof *values);
    if (values)
        d->run.value = values;
    if (!copy || !names || !values || !value) {
        free(copy);
        free(value);
        return no_memory(d);
    }
    names[d->run.columns] = copy;
    values[d->run.columns++] = value;
    return TL_OK;
}

/* The limit of this kind that changes with the water, if there is one. */
static const struct tl_chart_limit *
moving_limit(const struct tl_drawing *d, enum tl_chart_quantity quantity, enum tl_chart_level level)
{
    for (size_t i = 0; i < d->o->limits; i++) {
        const struct tl_chart_limit *l = &d->o->limit[i];
        if (l->quantity == quantity && l->level == level && tl_plan_moves(l))
            return l;
    }
    return NULL;
}

/* A recorded column's value, or NAN. */
static double value_at(const double *column, size_t row)
{
    return column ? column[row] : NAN;
}

/* What is drawn but not recorded: the saturated concentration, from what the tank holds and how near
 * to saturation that is, and the limits that change with the water. */
static int derive_columns(struct tl_drawing *d)
{
    const double *pct = tl_recorded_column(&d->run, "tank_o2_sat_pct");
    const double *o2 = tl_recorded_column(&d->run, "tank_o2_mg_L");
    const double *t_degC = tl_recorded_column(&d->run, "temperature_degC");
    const double *ph = tl_recorded_column(&d->run, "tank_ph");
    const double *chloride = tl_recorded_column(&d->run, "tank_chloride_mg_L");
    const bool chronic = moving_limit(d, TL_CHART_OF_TAN, TL_CHART_CAUTION);
    const bool acute = moving_limit(d, TL_CHART_OF_TAN, TL_CHART_DANGER);
    const struct tl_chart_limit *no2 = moving_limit(d, TL_CHART_OF_NO2, TL_CHART_DANGER);
    enum { SATURATION, TAN_CAUTION, TAN_DANGER, NO2_DANGER, DERIVED };
    static const char *const name[DERIVED] = {TL_COLUMN_SATURATION, TL_COLUMN_TAN_CAUTION,
                                              TL_COLUMN_TAN_DANGER, TL_COLUMN_NO2_DANGER};
    double *v[DERIVED];
    bool complete = true;
    int status = TL_OK;

    for (size_t k = 0; k < DERIVED; k++)
        complete = (v[k] = malloc(d->run.rows * sizeof *v[k])) && complete;
    for (size_t i = 0; i < d->run.rows && complete; i++) {
        double share = value_at(pct, i), t = value_at(t_degC, i), acid = value_at(ph, i);
        v[SATURATION][i] = share > 0 ? 100 * value_at(o2, i) / share : NAN;
        v[TAN_CAUTION][i] = chronic ? tl_epa_ammonia_chronic(t, acid, false) : NAN;
        v[TAN_DANGER][i] = acute ? tl_epa_ammonia_acute(t, acid, false) : NAN;
        v[NO2_DANGER][i] =
            no2 ? fmin(no2->highest, fmax(no2->value, value_at(chloride, i) / no2->chloride_ratio))
                : NAN;
    }
    for (size_t k = 0; k < DERIVED; k++) {
        int added = add_column(d, name[k], v[k]);
        status = status ? status : added;
    }
    return status;
}

/* Turns columns into the units of the axes; fails when one is missing. */
static int convert_units(struct tl_drawing *d)
{
    for (size_t c = 0; c < TL_NCHART; c++)
        for (size_t p = 0; p < TL_PANELS; p++) {
            const struct tl_panel *panel = &tl_chart_plan[c].panel[p];
            for (size_t k = 0; k < TL_CURVES && panel->curve[k].column; k++) {
                double *v = tl_recorded_column(&d->run, panel->curve[k].column);
                if (!v)
                    return tl_drawing_fail(d, TL_E_CHART, "%s has no column %s", d->o->series_csv,
                                           panel->curve[k].column);
                for (size_t i = 0; panel->dim != TL_DIM_NUMBER && i < d->run.rows; i++)
                    v[i] = tl_display_value(panel->dim, d->o->units, v[i]);
            }
        }
    return TL_OK;
}

static int write_points(struct tl_drawing *d, const char *column, const double *v, size_t most)
{
    size_t *keep = malloc(most * sizeof *keep);
    FILE *f = keep ? tl_drawing_open(d, "%s.dat", column) : NULL;

    if (f) {
        size_t n = tl_thin(v, d->run.rows, most, keep);
        for (size_t i = 0; i < n; i++)
            if (isfinite(v[keep[i]]))
                fprintf(f, "%.9g %.6g %.6g %.6g\n", d->t[keep[i]], v[keep[i]], v[keep[i]],
                        v[keep[i]]);
            else
                putc('\n', f); /* a gap in the line */
    }
    if (!keep)
        return no_memory(d);
    free(keep);
    return tl_drawing_close(d, f);
}

static int write_bands(struct tl_drawing *d, const char *column, const double *v)
{
    struct tl_band *band = malloc(d->bands * sizeof *band);
    FILE *f = band ? tl_drawing_open(d, "%s.dat", column) : NULL;

    if (f) {
        tl_bands(d->t, v, d->run.rows, d->bands, band);
        for (size_t i = 0; i < d->bands; i++)
            if (isfinite(band[i].mean))
                fprintf(f, "%.9g %.6g %.6g %.6g\n", band[i].t, band[i].mean, band[i].low,
                        band[i].high);
            else
                putc('\n', f);
    }
    if (!band)
        return no_memory(d);
    free(band);
    return tl_drawing_close(d, f);
}

static int write_data(struct tl_drawing *d)
{
    int status = TL_OK;

    for (size_t i = 0; i < d->run.columns && !status; i++) {
        const char *name = d->run.name[i];
        if (!strcmp(name, "time_d"))
            continue;
        if (tl_plan_is_tray(name)) /* many curves, all of them smooth */
            status = write_points(d, name, d->run.value[i], TRAY_POINTS);
        else if (d->bands)
            status = write_bands(d, name, d->run.value[i]);
        else
            status = write_points(d, name, d->run.value[i], POINTS);
    }
    return status;
}

/* --- gnuplot ------------------------------------------------------------------------------- */

static const struct {
    unsigned bit;
    const char *ending, *terminal;
} format_table[] = {
    {TL_CHART_PNG, "png", "pngcairo noenhanced fontscale 0.75 size %d,%d font 'sans-serif,%d'"},
    {TL_CHART_SVG, "svg", "svg noenhanced size %d,%d font 'sans-serif,%d' background 'white'"},
    {TL_CHART_PDF, "pdf",
     "pdfcairo noenhanced fontscale 1 size %d/72.0,%d/72.0 font 'sans-serif,%d'"},
};
enum { FORMATS = sizeof format_table / sizeof *format_table };

static bool in_use(const struct tl_drawing *d, size_t format)
{
    unsigned wanted = d->o->formats ? d->o->formats : TL_CHART_PNG | TL_CHART_SVG;
    return wanted & format_table[format].bit;
}

/* One script that draws all; first two probes that are the same only when no font was found. */
static int write_main(struct tl_drawing *d)
{
    int height[TL_NCHART], status = TL_OK;

    for (size_t c = 0; c < TL_NCHART && !status; c++)
        status = tl_drawing_write_panels(d, (enum tl_chart_id)c, &height[c]);
    if (status)
        return status;
    FILE *f = tl_drawing_open(d, "main.gp");
    if (f) {
        fprintf(f, "set encoding utf8\ntrays = %zu\n", d->trays);
        for (int probe = 1; probe <= 2 && in_use(d, 0); probe++)
            fprintf(f,
                    "set terminal pngcairo noenhanced size 80,40 font 'sans-serif,%d'\n"
                    "set output 'probe_%d.png'\nunset border; unset tics\n"
                    "set label 1 '%s' at screen 0.1, 0.5\nplot [0:1] [0:1] 2 notitle\nset output\n",
                    TL_TEXT_SIZE, probe, probe == 1 ? "Wag" : "");
        for (size_t k = 0; k < FORMATS; k++)
            for (size_t c = 0; c < TL_NCHART && in_use(d, k); c++) {
                const char *name = tl_chart_name((enum tl_chart_id)c);
                fprintf(f, "set terminal ");
                fprintf(f, format_table[k].terminal, TL_PICTURE_WIDTH, height[c], TL_TEXT_SIZE);
                fprintf(f, "\nset output '%s.%s'\nload 'style.gp'\nload '%s.gp'\nset output\n",
                        name, format_table[k].ending, name);
            }
    }
    return tl_drawing_close(d, f);
}

static int copy_script(struct tl_drawing *d, const char *from, const char *name)
{
    char file[64], buffer[4096];
    snprintf(file, sizeof file, "%s.gp", name);
    char *path = join(from, file);
    FILE *in = path ? fopen(path, "re") : NULL;
    int status = TL_OK;

    if (!path)
        status = no_memory(d);
    else if (!in)
        status = tl_drawing_fail(d, TL_E_IO, "%s: %s", path, strerror(errno));
    else {
        FILE *out = tl_drawing_open(d, "%s", file);
        for (size_t n; out && (n = fread(buffer, 1, sizeof buffer, in)) > 0;)
            fwrite(buffer, 1, n, out);
        status = tl_drawing_close(d, out);
        fclose(in);
    }
    free(path);
    return status;
}

/* gnuplot loads the scripts from its own folder, so that no path of the user is ever in a script. */
static int copy_scripts(struct tl_drawing *d)
{
    char own[TL_PATH_SIZE];
    const char *from = d->o->plots_dir;

    if (!from) {
        tl_plots_folder(own, sizeof own);
        from = own;
    }
    int status = copy_script(d, from, "style");
    for (size_t c = 0; c < TL_NCHART && !status; c++)
        status = copy_script(d, from, tl_chart_name((enum tl_chart_id)c));
    return status;
}

static int run_gnuplot(struct tl_drawing *d)
{
    struct tl_gnuplot_result r;
    double limit = d->o->time_limit_s > 0 ? d->o->time_limit_s : TIME_LIMIT_S;
    int status = tl_gnuplot_run(d->folder, "main.gp", limit, d->o->interrupted, &r);

    if (!status)
        return TL_OK;
    if (r.interrupted)
        return tl_drawing_fail(d, TL_E_INTERRUPTED, "interrupted while drawing the charts");
    if (r.not_found) {
        d->outcome->lacks = TL_CHART_LACKS_GNUPLOT;
        return tl_drawing_fail(d, TL_E_CHART,
                               "no charts: gnuplot is not installed (on Debian: apt install "
                               "gnuplot-nox)");
    }
    if (r.timed_out)
        return tl_drawing_fail(d, TL_E_CHART, "gnuplot did not finish within %g s and was stopped",
                               limit);
    return tl_drawing_fail(d, status, "gnuplot failed: %s", *r.said ? r.said : "it gave no reason");
}

static int put_in_place(struct tl_drawing *d, const char *name)
{
    char *own = join(d->folder, name), *final = join(d->o->out_dir, name), why[64];
    int status = TL_OK;

    if (!own || !final)
        status = no_memory(d);
    else if (!tl_picture_whole(own, why, sizeof why))
        status = tl_drawing_fail(d, TL_E_CHART, "gnuplot's picture %s %s", name, why);
    else if (rename(own, final))
        status = tl_drawing_fail(d, TL_E_IO, "%s: %s", final, strerror(errno));
    else
        d->outcome->pictures++;
    free(own);
    free(final);
    return status;
}

static int collect_pictures(struct tl_drawing *d)
{
    int status = TL_OK;
    bool font = true;

    if (in_use(d, 0)) {
        char *with = join(d->folder, "probe_1.png"), *without = join(d->folder, "probe_2.png");
        font = with && without && !tl_same_bytes(with, without);
        free(with);
        free(without);
    }
    for (size_t k = 0; k < FORMATS && !status; k++)
        for (size_t c = 0; c < TL_NCHART && in_use(d, k) && !status; c++) {
            char name[64];
            if (!font && format_table[k].bit != TL_CHART_SVG)
                continue;
            snprintf(name, sizeof name, "%s.%s", tl_chart_name((enum tl_chart_id)c),
                     format_table[k].ending);
            status = put_in_place(d, name);
        }
    if (!status && !font) {
        d->outcome->lacks = TL_CHART_LACKS_FONT;
        status = tl_drawing_fail(d, TL_E_CHART,
                                 "no font was found, so only the SVG charts were drawn (on Debian: "
                                 "apt install fonts-dejavu-core)");
    }
    return status;
}

/* --- from start to end --------------------------------------------------------------------- */

static int make_folder(struct tl_drawing *d)
{
    if (tl_posix_make_folder(d->o->out_dir, NULL))
        return tl_drawing_fail(d, TL_E_IO, "%s: %s", d->o->out_dir, strerror(errno));
    char *stem = join(d->o->out_dir, ".drawing");
    if (!stem)
        return no_memory(d);
    d->folder = tl_posix_new_folder(stem);
    free(stem);
    return d->folder ? TL_OK
                     : tl_drawing_fail(d, TL_E_IO, "%s: %s", d->o->out_dir, strerror(errno));
}

static void remove_folder(struct tl_drawing *d)
{
    if (d->folder)
        tl_posix_remove_tree(d->folder);
    free(d->folder);
}

static int prepare(struct tl_drawing *d)
{
    int status = tl_recorded_read(d->o->series_csv, tl_plan_wants, &d->run, d->outcome->fault,
                                  sizeof d->outcome->fault);
    if (status || (status = derive_columns(d)) || (status = convert_units(d)))
        return status;
    char name[64];
    do
        snprintf(name, sizeof name, "tray%02zu_aob_gCOD_m2", d->trays + 1);
    while (tl_recorded_column(&d->run, name) && ++d->trays);

    d->t = tl_recorded_column(&d->run, "time_d");
    d->from_d = d->t[0];
    d->to_d = d->t[d->run.rows - 1];
    double span = d->to_d - d->from_d;
    if (span > BAND_FROM_D && (double)d->run.rows / span >= 4) {
        d->band_d = ceil(span / MOST_BANDS);
        d->bands = tl_band_count(d->t, d->run.rows, d->band_d);
    }
    return tl_drawing_lay_out(d) ? no_memory(d) : TL_OK;
}

int tl_charts_draw(const struct tl_chart_options *o, struct tl_chart_outcome *outcome)
{
    struct tl_drawing d = {.o = o, .outcome = outcome};
    struct tl_posix_locale locale; /* this thread writes and reads decimal points */
    int status;

    *outcome = (struct tl_chart_outcome){0};
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    if (!(status = prepare(&d)) && !(status = make_folder(&d)) && !(status = copy_scripts(&d)) &&
        !(status = write_data(&d)) && !(status = write_main(&d)) && !(status = run_gnuplot(&d)))
        status = collect_pictures(&d);
    remove_folder(&d);
    tl_recorded_free(&d.run);
    tl_posix_plain_end(&locale);
    return status;
}
