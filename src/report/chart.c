/* Draws the charts of a run: reads series.csv, writes thinned data and what the scripts of plots/ load
 * into a folder of its own, lets gnuplot draw there, checks the pictures and puts them in place. */
#include "towerloop/chart.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "drawing.h"
#include "glyphs.h"
#include "gnuplot.h"
#include "own_file.h"
#include "picture.h"
#include "plan.h"
#include "plots.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"
#include "views.h"

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

int tl_drawing_write_data(struct tl_drawing *d, const char *prefix)
{
    int status = TL_OK;

    for (size_t i = 0; i < d->curves && !status; i++) {
        const struct tl_trace *trace = &d->curve[i].trace;
        FILE *f = tl_drawing_open(d, "%s%s.dat", prefix, d->curve[i].column);
        for (size_t k = 0; f && k < trace->points; k++) {
            const struct tl_point *p = &trace->point[k];
            if (isfinite(p->value))
                fprintf(f, "%.9g %.6g %.6g %.6g\n", p->t, p->value, p->low, p->high);
            else
                putc('\n', f); /* a gap in the line */
        }
        status = tl_drawing_close(d, f);
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
     "pdfcairo noenhanced fontscale 0.75 linewidth 2 size %d/72.0,%d/72.0 font 'sans-serif,%d'"},
};
enum { FORMATS = sizeof format_table / sizeof *format_table };

static unsigned wanted(const struct tl_drawing *d)
{
    return d->o->formats ? d->o->formats : TL_CHART_PNG | TL_CHART_SVG;
}

static const char *script_of(const struct tl_picture *picture)
{
    return picture->script ? picture->script : picture->name;
}

/* What an optional panel stands or falls with. */
static bool has_any(const struct tl_drawing *d, const char *column)
{
    const struct tl_trace *trace = tl_drawing_trace(d, column);
    return trace && trace->highest > 0;
}

/* One script that draws all of these formats; first two probes that are the same only when no font was
 * found. */
static int write_main(struct tl_drawing *d, unsigned formats, const struct tl_picture *picture,
                      size_t n)
{
    FILE *f = tl_drawing_open(d, "main.gp");
    if (f) {
        fprintf(f, "set encoding utf8\ntrays = %zu\nalgae = %d\ngreen = %d\nchlorine = %d\n",
                d->trays, has_any(d, "tray01_algae_cover_pct"), has_any(d, "tank_algae_mgCOD_L"),
                has_any(d, "tank_chlorine_mgCl2_L"));
        for (int probe = 1; probe <= 2 && formats & TL_CHART_PNG; probe++)
            fprintf(f,
                    "set terminal pngcairo noenhanced size 80,40 font 'sans-serif,%d'\n"
                    "set output 'probe_%d.png'\nunset border; unset tics\n"
                    "set label 1 '%s' at screen 0.1, 0.5\nplot [0:1] [0:1] 2 notitle\nset output\n",
                    TL_TEXT_SIZE, probe, probe == 1 ? "Wag" : "");
        for (size_t k = 0; k < FORMATS; k++)
            for (size_t c = 0; c < n && formats & format_table[k].bit; c++) {
                fprintf(f, "set terminal ");
                fprintf(f, format_table[k].terminal, TL_PICTURE_WIDTH, picture[c].height,
                        TL_TEXT_SIZE);
                fprintf(f,
                        "\npicture = '%s'\nbanded = %d\nset output '%s.%s'\nload 'style.gp'\n"
                        "load '%s.gp'\nset output\n",
                        picture[c].name, picture[c].banded, picture[c].name, format_table[k].ending,
                        script_of(&picture[c]));
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
        if (!status && ferror(in))
            status = tl_drawing_fail(d, TL_E_IO, "%s cannot be read", path);
        fclose(in);
    }
    free(path);
    return status;
}

/* gnuplot loads the scripts from its own folder, so that no path of the user is ever in a script. */
static int copy_scripts(struct tl_drawing *d, const struct tl_picture *picture, size_t n)
{
    char own[TL_PATH_SIZE];
    const char *from = d->o->plots_dir;

    if (!from) {
        tl_plots_folder(own, sizeof own);
        from = own;
    }
    int status = copy_script(d, from, "style");
    for (size_t c = 0; c < n && !status; c++)
        status = copy_script(d, from, script_of(&picture[c]));
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
    if (status == TL_E_MEMORY)
        return no_memory(d);
    if (status == TL_E_IO)
        return tl_drawing_fail(d, status, "gnuplot could not be started: %s", strerror(errno));
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
    else if (tl_own_file_mark(own))
        status = tl_drawing_fail(d, TL_E_IO, "%s: %s", own, strerror(errno));
    else if (rename(own, final))
        status = tl_drawing_fail(d, TL_E_IO, "%s: %s", final, strerror(errno));
    else
        d->outcome->pictures++;
    free(own);
    free(final);
    return status;
}

static int collect_pictures(struct tl_drawing *d, const struct tl_picture *picture, size_t n)
{
    int status = TL_OK;
    bool font = true;

    if (wanted(d) & TL_CHART_PNG) {
        char *with = join(d->folder, "probe_1.png"), *without = join(d->folder, "probe_2.png");
        if (with && without)
            font = !tl_same_bytes(with, without);
        else
            status = no_memory(d);
        free(with);
        free(without);
    }
    for (size_t k = 0; k < FORMATS && !status; k++)
        for (size_t c = 0; c < n && wanted(d) & format_table[k].bit && !status; c++) {
            char name[64];
            if (!font && format_table[k].bit != TL_CHART_SVG)
                continue;
            snprintf(name, sizeof name, "%s.%s", picture[c].name, format_table[k].ending);
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

int tl_drawing_make_folder(struct tl_drawing *d)
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

void tl_drawing_remove_folder(struct tl_drawing *d)
{
    if (d->folder && !tl_posix_remove_tree(d->folder))
        snprintf(d->outcome->left, sizeof d->outcome->left, "%s", strrchr(d->folder, '/') + 1);
    free(d->folder);
}

static int paint(struct tl_drawing *d, unsigned formats, const struct tl_picture *picture, size_t n)
{
    const int status = write_main(d, formats, picture, n);
    return status || !formats ? status : run_gnuplot(d);
}

/* Characters that no font has stay in the SVG pictures and are taken out of the others. */
static int paint_by_fonts(struct tl_drawing *d, const struct tl_picture *picture, size_t n)
{
    struct tl_glyphs glyphs = {.n = 0};
    int status = TL_OK;
    if (wanted(d) & ~TL_CHART_SVG)
        status = tl_glyphs_find(d->folder, d->o->interrupted, &glyphs);
    if (status)
        return tl_drawing_fail(d, status, "%s: %s", d->folder, tl_status_text(status));
    if (!tl_glyphs_any_missing(&glyphs))
        return paint(d, wanted(d), picture, n);
    tl_glyphs_tell(&glyphs, d->outcome->unshown, sizeof d->outcome->unshown);
    if ((status = paint(d, wanted(d) & TL_CHART_SVG, picture, n)))
        return status;
    if ((status = tl_glyphs_take_out(&glyphs, d->folder)))
        return tl_drawing_fail(d, status, "%s: %s", d->folder, tl_status_text(status));
    return paint(d, wanted(d) & ~TL_CHART_SVG, picture, n);
}

int tl_drawing_paint(struct tl_drawing *d, const struct tl_picture *picture, size_t n)
{
    int status;
    if (!(status = copy_scripts(d, picture, n)) && !(status = paint_by_fonts(d, picture, n)))
        status = collect_pictures(d, picture, n);
    return status;
}

int tl_drawing_do(const struct tl_chart_options *o, struct tl_chart_outcome *outcome,
                  int (*write)(struct tl_drawing *d, const void *arg, struct tl_picture *picture,
                               size_t *n),
                  const void *arg)
{
    struct tl_drawing d = {.o = o, .outcome = outcome, .trays = 1};
    struct tl_picture picture[TL_OWN_PICTURES];
    struct tl_posix_locale locale;
    size_t n = 0;
    int status;

    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    if (!(status = tl_drawing_make_folder(&d)) && !(status = write(&d, arg, picture, &n)))
        status = tl_drawing_paint(&d, picture, n);
    tl_drawing_remove_folder(&d);
    tl_posix_plain_end(&locale);
    return status;
}

/* Those of a run so far. */
struct pictures {
    struct tl_picture picture[TL_NCHART];
    size_t n;
};

/* Whether the run has what a chart is about. */
static bool has_values(const struct tl_drawing *d, const char *column)
{
    const struct tl_trace *trace = column ? tl_drawing_trace(d, column) : NULL;
    return !column || (trace && trace->lowest <= trace->highest);
}

static int write_chart(struct tl_drawing *d, enum tl_chart_id id, struct pictures *p)
{
    struct tl_picture *picture = &p->picture[p->n];
    if (!has_values(d, tl_chart_plan[id].needs) || d->run.rows < tl_chart_plan[id].least_rows)
        return TL_OK;
    *picture = (struct tl_picture){.name = tl_chart_name(id), .banded = d->bands > 0};
    p->n++;
    return tl_chart_plan[id].panel[0].heading ? tl_drawing_write_panels(d, id, &picture->height)
                                              : tl_drawing_write_profile(d, &picture->height);
}

/* Those of the charts that show what `d` does; the ones of a start-up or the others. */
static int write_charts(struct tl_drawing *d, bool starting, struct pictures *p)
{
    int status = TL_OK;
    for (size_t c = 0; c < TL_NCHART && !status; c++)
        if (tl_chart_plan[c].view == d->view && tl_chart_plan[c].starting == starting)
            status = write_chart(d, (enum tl_chart_id)c, p);
    return status;
}

/* The first weeks, up to some time after the filter is ready. */
static int write_startup(const struct tl_drawing *run, struct pictures *p)
{
    struct tl_drawing startup = {.o = run->o, .outcome = run->outcome, .folder = run->folder};
    struct tl_view v = {0};
    int status = tl_drawing_read_start(&startup, tl_startup_until_d(run->o));
    if (!status && startup.curves > 0 && !(status = tl_view_startup(&startup, &v)) &&
        !(status = tl_drawing_write_data(&startup, "startup_")))
        status = write_charts(&startup, true, p);
    tl_view_free(&v);
    tl_drawing_forget(&startup);
    return status;
}

/* In the folder of the other charts, beside their data. */
static int write_day(struct tl_drawing *run, struct pictures *p)
{
    struct tl_drawing day = {.o = run->o, .outcome = run->outcome, .folder = run->folder};
    struct tl_view v = {0};
    int status = tl_drawing_read_day(&day);
    if (!status && day.curves > 0 && !(status = tl_view_day(&day, &v)) &&
        !(status = tl_drawing_write_data(&day, "day_")))
        status = write_charts(&day, false, p);
    tl_view_free(&v);
    tl_drawing_forget(&day);
    return status;
}

static int write_all(struct tl_drawing *d, struct pictures *p)
{
    int status = tl_drawing_write_data(d, "");
    if (!status)
        status = write_charts(d, false, p);
    if (!status && d->o->starting)
        status = write_startup(d, p);
    if (!status)
        status = write_day(d, p);
    return status == TL_E_MEMORY ? no_memory(d) : status;
}

static int prepare(struct tl_drawing *d)
{
    int status = tl_drawing_read(d);
    if (!status)
        status = tl_drawing_lay_out(d);
    return status == TL_E_MEMORY ? no_memory(d) : status;
}

int tl_charts_draw(const struct tl_chart_options *o, struct tl_chart_outcome *outcome)
{
    struct tl_drawing d = {.o = o, .outcome = outcome};
    struct pictures p = {.n = 0};
    struct tl_posix_locale locale; /* this thread writes and reads decimal points */
    int status;

    *outcome = (struct tl_chart_outcome){0};
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    if (!(status = prepare(&d)) && !(status = tl_drawing_make_folder(&d)) &&
        !(status = write_all(&d, &p)))
        status = tl_drawing_paint(&d, p.picture, p.n);
    tl_drawing_remove_folder(&d);
    tl_drawing_forget(&d);
    tl_posix_plain_end(&locale);
    return status;
}
