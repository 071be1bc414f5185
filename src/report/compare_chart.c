/* Variants laid over each other, and side by side: thins their recorded courses and writes the panels
 * for gnuplot. */
#include "compare_chart.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare_limits.h"
#include "drawing.h"
#include "gnuplot.h"
#include "plan.h"
#include "plot.h"
#include "text.h"
#include "towerloop/status.h"

/* px; of the picture with all variants in each panel */
enum {
    LAID_PANEL = 244,
    LAID_TITLE = 62,
    LAID_FOOT = 40,
    LAID_GAP = 44,
    NOTE = 26,
    KEY_STEP = 26,
    KEY_ROOM = 42
};
/* of the page: a row a variant */
enum {
    PAGE_ROW = 104,
    PAGE_HEAD = 128,
    PAGE_FOOT = 56,
    PAGE_LEFT = 196,
    PAGE_RIGHT = 1184,
    PAGE_GAP = 80,
    PAGE_ROW_GAP = 18
};
enum {
    LAID_POINTS = 700,
    PAGE_POINTS = 250,
    WIDE = 80 /* em */,
    NAME_WIDTH = 11,
    MOVING_WIDTH = 58
};
enum { DIRECT = 6 /* so many variants have their names beside their curves */, STYLE = 201 };
/* Limits further off than this, in spans of the values, would press the curves flat. */
#define FAR       3.0
#define THIN      1e-3
#define HEAD_ROOM 0.06
/* What a scale that does not begin at 0 is taken to show at least, when it comes to limits near it. */
#define LEAST_SPAN 0.5

static const struct {
    const char *column, *text, *small; /* NULL: not on the page of small pictures */
    enum tl_chart_quantity quantity;
    bool from_zero;
} panel[TL_COMPARE_PANELS] = {
    {"tank_tan_mgN_L", "total ammonia, mg/L as N", "total ammonia, mg/L as N", TL_CHART_OF_TAN,
     true},
    {"tank_nh3_mgN_L", "un-ionised ammonia, mg/L as N", "un-ionised, mg/L as N", TL_CHART_OF_NH3,
     true},
    {"tank_no2_mgN_L", "nitrite, mg/L as N", "nitrite, mg/L as N", TL_CHART_OF_NO2, true},
    {"tank_o2_mg_L", "oxygen, mg/L", "oxygen, mg/L", TL_CHART_OF_O2, true},
    {"tank_alkalinity_mgCaCO3_L", "alkalinity, mg/L as CaCO3", NULL, TL_CHART_OF_ALK, true},
    {"tank_ph", "pH", NULL, TL_CHART_OF_PH, false},
    {"temperature_degC", "temperature of the water, degC", NULL, TL_CHART_OF_TEMPERATURE, false},
};

const char *tl_compare_panel_column(size_t q)
{
    return panel[q].column;
}

const char *tl_compare_panel_text(size_t q)
{
    return panel[q].text;
}

/* The other columns that are read: the time, and what limits move with. */
enum { TIME, TEMPERATURE, PH, CHLORIDE, OTHERS };
static const char *const other[OTHERS] = {"time_d", "temperature_degC", "tank_ph",
                                          "tank_chloride_mg_L"};
enum { COLUMNS = OTHERS + TL_COMPARE_PANELS - 2 }; /* pH and temperature are both */

struct courses { /* of one variant */
    struct tl_trace trace[TL_COMPARE_PANELS];
};

struct page {
    const struct tl_compare_chart *c;
    struct tl_drawing *d;
    struct courses *laid, *small;
    size_t variants;
    double from_d, to_d;
    double apart_h;                                         /* the rows of some variant */
    double low[TL_COMPARE_PANELS], high[TL_COMPARE_PANELS]; /* of the scales */
    struct tl_level level[TL_COMPARE_LIMITS];
    size_t levels;
    int panels; /* laid over each other */
};

static bool wanted(const char *name)
{
    for (int i = 0; i < OTHERS; i++)
        if (strcmp(name, other[i]) == 0)
            return true;
    for (int q = 0; q < TL_COMPARE_PANELS; q++)
        if (strcmp(name, panel[q].column) == 0)
            return true;
    return false;
}

/* --- reading ------------------------------------------------------------------------------------ */

static int read_rows(struct page *p, struct tl_recorded *r, size_t variant, char *fault)
{
    struct courses *laid = &p->laid[variant], *small = &p->small[variant];
    double value[COLUMNS];
    struct tl_between between[TL_COMPARE_PANELS];
    size_t at[TL_COMPARE_PANELS], of[OTHERS];
    int status = r->columns == COLUMNS ? TL_OK : TL_E_CHART;
    for (int i = 0; i < OTHERS; i++)
        of[i] = tl_recorded_column(r, other[i]);
    p->apart_h = fmax(p->apart_h, tl_rows_apart_h(r));
    for (int q = 0; q < TL_COMPARE_PANELS && !status; q++) {
        const struct tl_compare_curves *c = &p->c->variant[variant];
        at[q] = tl_recorded_column(r, panel[q].column);
        tl_between_find(&between[q], c->extreme, c->extremes, panel[q].quantity, r);
        if (tl_trace_points(&laid->trace[q], r->rows + between[q].n, LAID_POINTS) ||
            tl_trace_points(&small->trace[q], r->rows + between[q].n, PAGE_POINTS))
            return TL_E_MEMORY;
    }
    for (size_t i = 0; i < r->rows && !status; i++) {
        if ((status = tl_recorded_next(r, value, fault, TL_CHART_FAULT_SIZE)))
            break;
        tl_levels_see(p->level, p->levels, variant, value[of[TEMPERATURE]], value[of[PH]],
                      value[of[CHLORIDE]]);
        for (int q = 0; q < TL_COMPARE_PANELS; q++) {
            for (const struct tl_chart_extreme *e;
                 (e = tl_between_next(&between[q], value[of[TIME]]));) {
                tl_trace_add_extreme(&laid->trace[q], e->t_d, e->value);
                tl_trace_add_extreme(&small->trace[q], e->t_d, e->value);
            }
            tl_trace_add(&laid->trace[q], value[of[TIME]], value[at[q]]);
            tl_trace_add(&small->trace[q], value[of[TIME]], value[at[q]]);
        }
    }
    for (int q = 0; q < TL_COMPARE_PANELS && !status; q++) {
        tl_trace_end(&laid->trace[q], THIN, LAID_POINTS);
        tl_trace_end(&small->trace[q], THIN, PAGE_POINTS);
        p->low[q] = fmin(p->low[q], laid->trace[q].lowest);
        p->high[q] = fmax(p->high[q], laid->trace[q].highest);
    }
    return status;
}

static int read_variant(struct page *p, size_t i)
{
    struct tl_recorded r;
    char *fault = p->d->outcome->fault;
    int status = tl_recorded_open(p->c->variant[i].series_csv, wanted, p->c->interrupted, &r, fault,
                                  TL_CHART_FAULT_SIZE);
    if (status)
        return status;
    p->from_d = i == 0 ? r.from_d : fmin(p->from_d, r.from_d);
    p->to_d = i == 0 ? r.to_d : fmax(p->to_d, r.to_d);
    status = read_rows(p, &r, i, fault);
    tl_recorded_close(&r);
    return status;
}

static bool concerns(const struct tl_level *l, int q)
{
    return l->limit->quantity == panel[q].quantity;
}

/* One line stands for all variants and all the time. That of nitrite moves with the chloride: where it
 * does, the lowest is drawn, for a line that is too low warns too early. */
static bool has_line(const struct tl_level *l, int q)
{
    return concerns(l, q) &&
           (tl_level_stays(l) || (l->limit->quantity == TL_CHART_OF_NO2 && isfinite(l->low)));
}

/* Makes a scale of what the values span, and of the limits near them. */
static void set_scale(struct page *p, int q)
{
    if (!(p->low[q] <= p->high[q])) /* no value at all */
        p->low[q] = p->high[q] = 0;
    if (panel[q].from_zero)
        p->low[q] = 0;
    const double low = p->low[q], high = p->high[q];
    const double reach = FAR * fmax(high - low, panel[q].from_zero ? 0 : LEAST_SPAN);
    for (size_t k = 0; k < p->levels; k++) {
        const struct tl_level *l = &p->level[k];
        if (has_line(l, q) && l->low > high - reach && l->low < low + reach) {
            p->low[q] = fmin(p->low[q], l->low);
            p->high[q] = fmax(p->high[q], l->low);
        }
    }
    const double room = HEAD_ROOM * (p->high[q] - p->low[q]);
    p->high[q] = p->high[q] > p->low[q] ? p->high[q] + room : p->low[q] + 1;
    p->low[q] -= panel[q].from_zero ? 0 : room;
}

static int read_all(struct page *p)
{
    int status = TL_OK;
    p->levels = tl_levels_begin(p->c->limit, p->c->limits, p->level);
    for (int q = 0; q < TL_COMPARE_PANELS; q++) {
        p->low[q] = INFINITY;
        p->high[q] = -INFINITY;
    }
    for (size_t i = 0; i < p->variants && !status; i++)
        status = p->c->interrupted && *p->c->interrupted ? TL_E_INTERRUPTED : read_variant(p, i);
    for (int q = 0; q < TL_COMPARE_PANELS; q++)
        set_scale(p, q);
    return status;
}

static int write_course(struct tl_drawing *d, const struct tl_trace *tr, const char *kind,
                        size_t variant, int q)
{
    FILE *f = tl_drawing_open(d, "%s_%zu_%d.dat", kind, variant + 1, q + 1);
    for (size_t i = 0; f && i < tr->points; i++) {
        if (isnan(tr->point[i].value))
            fprintf(f, "\n");
        else
            fprintf(f, "%.9g %.6g\n", tr->point[i].t, tr->point[i].value);
    }
    return tl_drawing_close(d, f);
}

static int write_courses(struct page *p)
{
    int status = TL_OK;
    for (size_t i = 0; i < p->variants; i++)
        for (int q = 0; q < p->panels && !status; q++) {
            status = write_course(p->d, &p->laid[i].trace[q], "laid", i, q);
            if (!status && q < TL_COMPARE_SMALL)
                status = write_course(p->d, &p->small[i].trace[q], "small", i, q);
        }
    return status;
}

/* --- the panels --------------------------------------------------------------------------------- */

static bool is_drawn(const struct page *p, const struct tl_level *l, int q)
{
    return has_line(l, q) && l->low >= p->low[q] && l->low <= p->high[q];
}

/* Those of the variants `of`. */
static void put_limits(FILE *f, const struct page *p, int q, uint32_t of)
{
    for (size_t i = 0; i < p->levels; i++) {
        const struct tl_level *l = &p->level[i];
        if (is_drawn(p, l, q) && l->of & of)
            fprintf(f, "set arrow from %.9g, %.6g to %.9g, %.6g nohead linestyle %d\n", p->from_d,
                    l->low, p->to_d, l->low,
                    l->limit->level == TL_CHART_DANGER ? TL_STYLE_DANGER : TL_STYLE_CAUTION);
    }
}

static void open_panel(FILE *f, const struct page *p, const struct tl_box *b, int q, uint32_t of,
                       double y_ticks)
{
    fprintf(f, "unset label\nunset arrow\n");
    tl_put_margins(f, b);
    fprintf(f, "set xrange [%.9g:%.9g]\nset yrange [%.6g:%.6g]\nset ytics %g\n", p->from_d, p->to_d,
            p->low[q], p->high[q], tl_nice_step(p->high[q] - p->low[q], y_ticks));
    put_limits(f, p, q, of);
}

/* Clock times, days or months and their dates, named under the last panel. */
static void put_times(FILE *f, const struct page *p, bool named)
{
    const struct tl_compare_chart *c = p->c;
    const struct tl_calendar start = {c->start_year ? c->start_year : 2001,
                                      c->start_year ? c->start_month : 1,
                                      c->start_year ? c->start_day : 1};
    struct tl_tick tick[TL_TICKS];
    const size_t n = tl_time_ticks(&start, p->from_d, p->to_d, TL_PLOT_RIGHT - TL_PLOT_LEFT, tick);
    fprintf(f, "set xtics (");
    for (size_t i = 0; i < n; i++) /* double quotes, for the two lines: these texts are our own */
        fprintf(f, "%s\"%s\\n%s\" %.9g", i ? ", " : "", named ? tick[i].clock : "",
                named && c->start_year ? tick[i].date : "", tick[i].t_d);
    fprintf(f, ")\n");
}

static size_t laid_shown(const struct page *p)
{
    return p->variants < TL_COMPARE_CURVES ? p->variants : TL_COMPARE_CURVES;
}

static void name_variants(struct tl_plot *plot, const struct page *p, int q)
{
    for (size_t i = 0; i < laid_shown(p) && laid_shown(p) <= DIRECT; i++) {
        const struct tl_trace *tr = &p->laid[i].trace[q];
        size_t k = tr->points;
        while (k > 0 && isnan(tr->point[k - 1].value))
            k--;
        if (k > 0)
            tl_plot_name(plot, tr->point[k - 1].value, STYLE + (int)i, p->c->variant[i].name);
    }
}

/* All that are laid over each other. */
static uint32_t laid_ones(const struct page *p)
{
    return (UINT32_C(1) << laid_shown(p)) - 1;
}

/* Whose limit it is, where it is not that of all: ": night only", ": others". */
static void say_whose(const struct page *p, const struct tl_level *l, char *text, size_t size)
{
    size_t with = 0, last = 0;
    for (size_t i = 0; i < laid_shown(p); i++)
        if (l->of >> i & 1) {
            with++;
            last = i;
        }
    if (with == laid_shown(p))
        *text = '\0';
    else if (with == 1)
        tl_format(text, size, ": %s", p->c->variant[last].name);
    else if (2 * with > laid_shown(p))
        tl_format(text, size, ": others");
    else
        tl_format(text, size, ": %zu variants", with);
}

static const char *level_name(const struct tl_level *l)
{
    return l->limit->level == TL_CHART_DANGER ? "danger" : "caution";
}

/* Right of the panel: variants, and limits, those that are not drawn included, but not what moves off
 * the lines that are drawn. */
static void put_names(FILE *f, const struct page *p, const struct tl_box *b, int q)
{
    struct tl_plot plot = {.box = *b, .low = p->low[q], .high = p->high[q]};
    name_variants(&plot, p, q);
    for (size_t i = 0; i < p->levels; i++) {
        const struct tl_level *l = &p->level[i];
        const bool stays = tl_level_stays(l), drawn = is_drawn(p, l, q);
        char text[TL_PLOT_NAME_SIZE], whose[TL_PLOT_NAME_SIZE];
        if (!concerns(l, q) || !isfinite(l->low) || !(l->of & laid_ones(p)) || (!stays && !drawn))
            continue;
        say_whose(p, l, whose, sizeof whose);
        tl_format(text, sizeof text, "%s %s %.3g%s%s", level_name(l),
                  l->limit->side == TL_CHART_ABOVE ? "above" : "below", l->low,
                  !drawn   ? " (off scale)"
                  : !stays ? " (lowest)"
                           : "",
                  whose);
        if (drawn)
            tl_plot_name(&plot, l->low,
                         l->limit->level == TL_CHART_DANGER ? TL_STYLE_DANGER : TL_STYLE_CAUTION,
                         text);
        else
            tl_plot_note(&plot, l->low, text);
    }
    tl_plot_write_names(f, &plot);
}

/* Above the panel, away from the names: the limits that move. */
static void put_moving(FILE *f, const struct page *p, const struct tl_box *b, int q)
{
    struct tl_text list = {0}, text = {0};
    bool drawn = false;
    for (size_t i = 0; i < p->levels; i++) {
        const struct tl_level *l = &p->level[i];
        char whose[TL_PLOT_NAME_SIZE];
        if (!concerns(l, q) || !isfinite(l->low) || !(l->of & laid_ones(p)) || tl_level_stays(l))
            continue;
        say_whose(p, l, whose, sizeof whose);
        drawn = drawn || is_drawn(p, l, q);
        tl_text_addf(&list, "%s%s %.3g to %.3g%s%s%s", list.length > 0 ? ", " : "", level_name(l),
                     l->low, l->high, *whose ? " (" : "", *whose ? whose + 2 : "",
                     *whose ? ")" : "");
    }
    tl_text_addf(&text, "limits move with the water, %s: %s",
                 drawn ? "drawn where they are lowest" : "not drawn", tl_text_string(&list));
    if (list.length > 0)
        tl_put_text(f, tl_text_string(&text), MOVING_WIDTH, TL_PICTURE_WIDTH - 10.0, b->top + 16,
                    b->picture_height, "right font small_font");
    tl_text_free(&list);
    tl_text_free(&text);
}

/* Do the rows of some variant miss what a day does? */
static bool is_sparse(const struct page *p)
{
    return p->apart_h > TL_ROWS_FAR_APART_H;
}

/* From the bottom: a note, the panels; above them the key, and the title. */
static double laid_panels(const struct page *p)
{
    return (is_sparse(p) ? NOTE : 0) + LAID_FOOT + p->panels * (double)LAID_PANEL;
}

/* Long names get wide columns. */
enum { KEY_LEAD = 48, KEY_GAP = 14 };

static size_t key_columns(const struct page *p)
{
    double widest = 0;
    for (size_t i = 0; i < laid_shown(p); i++)
        widest = fmax(widest, tl_text_width(p->c->variant[i].name));
    const double room = TL_PICTURE_WIDTH - TL_PLOT_LEFT;
    for (size_t columns = 3; columns > 1; columns--)
        if (KEY_LEAD + widest * TL_SMALL_SIZE + KEY_GAP <= room / (double)columns)
            return columns;
    return 1;
}

static double laid_height(const struct page *p)
{
    const size_t rows =
        laid_shown(p) <= DIRECT ? 0 : (laid_shown(p) + key_columns(p) - 1) / key_columns(p);
    return laid_panels(p) + KEY_ROOM + (double)rows * KEY_STEP + LAID_TITLE;
}

/* Of many variants: a stretch of each one's line with its name, row by row under the title. */
static void put_key(FILE *f, const struct page *p)
{
    const double height = laid_height(p);
    const size_t columns = key_columns(p);
    const double each = (TL_PICTURE_WIDTH - TL_PLOT_LEFT) / (double)columns;
    for (size_t i = 0; i < laid_shown(p) && laid_shown(p) > DIRECT; i++) {
        const double x = TL_PLOT_LEFT + each * (double)(i % columns);
        const double y =
            height - LAID_TITLE - KEY_STEP * (floor((double)i / (double)columns) + 0.5);
        fprintf(f, "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle %zu\n",
                x / TL_PICTURE_WIDTH, y / height, (x + 40) / TL_PICTURE_WIDTH, y / height,
                STYLE + i);
        tl_put_text(f, p->c->variant[i].name, (each - KEY_LEAD - KEY_GAP) / TL_SMALL_SIZE,
                    x + KEY_LEAD, y, height, "left font small_font");
    }
}

static void put_note(FILE *f, const struct page *p, double height)
{
    char note[160];
    tl_format(note, sizeof note,
              "Rows %.3g h apart: between them only the lowest and highest of each run are drawn. "
              "The tables count every hour.",
              p->apart_h);
    tl_put_text(f, note, 1e6, TL_PLOT_LEFT, 0.5 * NOTE, height, "left font small_font");
}

static int write_laid(struct page *p)
{
    const double height = laid_height(p);
    int status = TL_OK;
    for (int q = 0; q < p->panels && !status; q++) {
        const double top = laid_panels(p) - (double)q * LAID_PANEL;
        const struct tl_box b = {TL_PLOT_LEFT, TL_PLOT_RIGHT, top - LAID_PANEL + LAID_GAP, top,
                                 height};
        FILE *f = tl_drawing_open(p->d, "compare_%d.gp", q + 1);
        if (f) {
            open_panel(f, p, &b, q, laid_ones(p), 5);
            put_times(f, p, q == p->panels - 1);
            put_names(f, p, &b, q);
            put_moving(f, p, &b, q);
            tl_put_text(f, panel[q].text, WIDE, b.left, b.top + 16, height,
                        "left font heading_font");
            if (q == 0) {
                tl_put_text(f, p->c->title, WIDE, b.left, height - 32, height,
                            "left font title_font");
                put_key(f, p);
                if (is_sparse(p))
                    put_note(f, p, height);
            }
            fprintf(f, "variants = %zu\npanels = %d\n", laid_shown(p), p->panels);
        }
        status = tl_drawing_close(p->d, f);
    }
    return status;
}

static double page_height(const struct page *p)
{
    return PAGE_HEAD + (double)p->variants * PAGE_ROW + PAGE_FOOT;
}

static int write_small(struct page *p, size_t i, int q)
{
    const double each = (double)(PAGE_RIGHT - PAGE_LEFT) / TL_COMPARE_SMALL;
    const double height = page_height(p);
    const double top = height - PAGE_HEAD - (double)i * PAGE_ROW;
    const struct tl_box b = {PAGE_LEFT + q * each + PAGE_GAP / 2.0,
                             PAGE_LEFT + (q + 1) * each - PAGE_GAP / 4.0,
                             top - PAGE_ROW + PAGE_ROW_GAP, top, height};
    FILE *f = tl_drawing_open(p->d, "compare_multiples_%zu_%d.gp", i + 1, q + 1);
    if (f) {
        open_panel(f, p, &b, q, UINT32_C(1) << i, 3);
        fprintf(f, "set xtics %g\n",
                tl_nice_step(p->to_d - p->from_d, fmin(5, (b.right - b.left) / 40)));
        if (i == 0)
            tl_put_text(f, panel[q].small, 15, b.left, b.top + 20, height, "left font small_font");
        if (i == 0 && q == 0)
            tl_put_text(f, p->c->title, WIDE, 16, height - 32, height, "left font title_font");
        if (q == 0) {
            char name[512], rest[512];
            const size_t used =
                tl_text_clean(p->c->variant[i].name, NAME_WIDTH, true, name, sizeof name);
            (void)tl_text_clean(p->c->variant[i].name + used, NAME_WIDTH, false, rest, sizeof rest);
            tl_put_text(f, name, NAME_WIDTH + 1, 16, b.top - (*rest ? 24 : 36), height,
                        "left font small_font");
            if (*rest)
                tl_put_text(f, rest, NAME_WIDTH + 1, 16, b.top - 46, height,
                            "left font small_font");
        }
        if (i + 1 == p->variants && q == 0)
            tl_put_text(f,
                        "days; each column has one scale; dashed: caution, solid: danger, if on it",
                        WIDE, b.left, 16, height, "left font small_font");
        fprintf(f, "set format x '%s'\nvariants = %zu\npanels = %d\n",
                i + 1 == p->variants ? "%g" : "", p->variants, TL_COMPARE_SMALL);
    }
    return tl_drawing_close(p->d, f);
}

static int write_page(struct page *p)
{
    int status = TL_OK;
    for (size_t i = 0; i < p->variants; i++)
        for (int q = 0; q < TL_COMPARE_SMALL && !status; q++)
            status = write_small(p, i, q);
    return status;
}

/* --- the pictures ------------------------------------------------------------------------------- */

static int write_pictures(struct page *p, struct tl_picture *picture, size_t *n)
{
    int status;
    if ((status = read_all(p)) || (status = write_courses(p)) || (status = write_laid(p)) ||
        (status = write_page(p)))
        return status;
    picture[(*n)++] = (struct tl_picture){.name = "compare", .height = (int)laid_height(p)};
    picture[(*n)++] =
        (struct tl_picture){.name = "compare_multiples", .height = (int)page_height(p)};
    return TL_OK;
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    struct page p = {.c = arg, .d = d};
    p.panels = p.c->outdoors ? TL_COMPARE_PANELS : TL_COMPARE_PANELS - 1;
    p.variants = p.c->variants < TL_COMPARE_PAGE ? p.c->variants : TL_COMPARE_PAGE;
    p.laid = calloc(p.variants + 1, sizeof *p.laid);
    p.small = calloc(p.variants + 1, sizeof *p.small);
    const int status = p.laid && p.small ? write_pictures(&p, picture, n) : TL_E_MEMORY;
    for (size_t i = 0; p.laid && p.small && i < p.variants; i++)
        for (int q = 0; q < TL_COMPARE_PANELS; q++) {
            tl_trace_free(&p.laid[i].trace[q]);
            tl_trace_free(&p.small[i].trace[q]);
        }
    free(p.laid);
    free(p.small);
    return status;
}

int tl_compare_chart_draw(const struct tl_compare_chart *c, struct tl_chart_outcome *outcome)
{
    const struct tl_chart_options o = {.out_dir = c->out_dir,
                                       .plots_dir = c->plots_dir,
                                       .formats = c->formats,
                                       .interrupted = c->interrupted};
    return tl_drawing_do(&o, outcome, write_all, c);
}
