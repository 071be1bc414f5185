/* Draws the charts of a run: reads series.csv, works out ranges, ticks and the places of words, writes
 * them with thinned data into a folder of their own, lets gnuplot draw with the scripts of plots/,
 * checks the pictures and puts them in place. */
#include "towerloop/chart.h"

#include <dirent.h>
#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "gnuplot.h"
#include "layout.h"
#include "picture.h"
#include "recorded.h"
#include "thin.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

enum {
    WIDTH = 1200, LEFT = 76, RIGHT = 220, /* px; the names of curves and limits stand on the right */
    PLOT_WIDTH = WIDTH - LEFT - RIGHT,
    TITLE_LINE = 27, SUBJECT_LINE = 30, WORD_LINE = 19, HEADING = 24, GAP = 16, BELOW = 58,
    TEXT = 13, SMALL_TEXT = 12, TITLE_TEXT = 18, NAME_GAP = 16,
    POINTS = 4000, TRAY_POINTS = 500, WORD_ROWS = 4, WORDS = 40, NAMES = 16, CURVES = 3, MAX_PANELS = 7
};
#define BAND_FROM_D 20.0 /* from this length on, days melt into a band with a mean line */
#define MAX_BANDS 1300

/* --- what is on each chart ----------------------------------------------------------------- */

enum range { FROM_ZERO, AROUND_DATA };
enum mark { MARK_NOTHING, MARK_LOWEST, MARK_HIGHEST };

struct curve {
    const char *column; /* of series.csv, or made by add_saturation() */
    const char *name;
    int style;          /* line style of plots/style.gp */
};

struct panel {
    const char *heading;       /* %s stands for the unit where `dim` has one */
    int height;
    enum range range;
    enum mark mark;
    enum tl_dim dim;           /* TL_DIM_NUMBER: drawn in the unit of series.csv */
    const char *tray_suffix;   /* the curves are all trays' columns with this ending */
    enum tl_chart_quantity quantity[2];
    struct curve curve[CURVES];
};

struct chart {
    const char *subject;
    bool brief; /* small panels: limits outside the scale are not mentioned */
    struct panel panel[MAX_PANELS];
};

#define NO_LIMITS {TL_CHART_OF_NOTHING, TL_CHART_OF_NOTHING}
#define SATURATION "tank_o2_saturation_mg_L"
#define AMMONIA_CURVE {"tank_tan_mgN_L", "ammonia (TAN)", 1}
#define NITRITE_CURVE {"tank_no2_mgN_L", "nitrite (NO2-N)", 2}

static const struct chart chart_table[TL_NCHART] = {
    [TL_CHART_NITROGEN] = {
        "Ammonia, nitrite and nitrate in the tank", false,
        {{"Total ammonia and nitrite, mg/L as N", 330, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_TAN, TL_CHART_OF_NO2}, {AMMONIA_CURVE, NITRITE_CURVE}},
         {"Nitrate, mg/L as N", 190, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_NO3, TL_CHART_OF_NOTHING}, {{"tank_no3_mgN_L", "nitrate (NO3-N)", 3}}}}},
    [TL_CHART_AMMONIA] = {
        "Un-ionised ammonia, the poisonous part, in the tank", false,
        {{"Un-ionised ammonia (NH3-N), mg/L as N", 400, FROM_ZERO, MARK_HIGHEST, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_NH3, TL_CHART_OF_NOTHING}, {{"tank_nh3_mgN_L", "in the tank", 1}}}}},
    [TL_CHART_OXYGEN] = {
        "Dissolved oxygen", false,
        {{"Oxygen, mg/L", 420, FROM_ZERO, MARK_LOWEST, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_O2, TL_CHART_OF_NOTHING},
          {{"tank_o2_mg_L", "tank", 1}, {"tower_out_o2_mg_L", "tower outlet", 2},
           {SATURATION, "saturation", 4}}}}},
    [TL_CHART_PH_ALKALINITY] = {
        "pH and alkalinity in the tank", false,
        {{"pH", 250, AROUND_DATA, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_PH, TL_CHART_OF_NOTHING}, {{"tank_ph", "pH", 1}}},
         {"Alkalinity, mg/L as CaCO3", 250, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_ALK, TL_CHART_OF_NOTHING},
          {{"tank_alkalinity_mgCaCO3_L", "alkalinity", 1}}}}},
    [TL_CHART_BIOFILM] = {
        "The living film in the tower, tray by tray", false,
        {{"Ammonia oxidisers (turn ammonia into nitrite), g COD per m2 of wetted media", 170,
          FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, "_aob_gCOD_m2", NO_LIMITS, {{0}}},
         {"Nitrite oxidisers (turn nitrite into nitrate), g COD per m2 of wetted media", 170,
          FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, "_nob_gCOD_m2", NO_LIMITS, {{0}}},
         {"Heterotrophs (live on dissolved waste), g COD per m2 of wetted media", 170,
          FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, "_het_gCOD_m2", NO_LIMITS, {{0}}},
         {"Voids between the stones filled with film and trapped solids, %", 170,
          FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, "_voids_filled_pct", NO_LIMITS, {{0}}}}},
    [TL_CHART_OVERVIEW] = {
        "Overview of the tank", true,
        {{"Total ammonia and nitrite, mg/L as N", 120, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_TAN, TL_CHART_OF_NO2}, {AMMONIA_CURVE, NITRITE_CURVE}},
         {"Un-ionised ammonia (NH3-N), mg/L as N", 100, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_NH3, TL_CHART_OF_NOTHING}, {{"tank_nh3_mgN_L", "NH3-N", 1}}},
         {"Oxygen, mg/L", 100, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_O2, TL_CHART_OF_NOTHING}, {{"tank_o2_mg_L", "oxygen", 1}}},
         {"pH", 100, AROUND_DATA, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_PH, TL_CHART_OF_NOTHING}, {{"tank_ph", "pH", 1}}},
         {"Alkalinity, mg/L as CaCO3", 100, FROM_ZERO, MARK_NOTHING, TL_DIM_NUMBER, NULL,
          {TL_CHART_OF_ALK, TL_CHART_OF_NOTHING},
          {{"tank_alkalinity_mgCaCO3_L", "alkalinity", 1}}},
         {"Water temperature, %s", 100, AROUND_DATA, MARK_NOTHING, TL_DIM_TEMPERATURE, NULL,
          NO_LIMITS, {{"temperature_degC", "temperature", 1}}},
         {"Feed, %s", 100, FROM_ZERO, MARK_NOTHING, TL_DIM_MASS_FLOW, NULL,
          NO_LIMITS, {{"feed_g_d", "feed", 3}}}}},
};

const char *tl_chart_name(enum tl_chart_id id)
{
    static const char *const name[] = {
#define TL_CHART_NAME(chart, text) text,
        TL_CHART_LIST(TL_CHART_NAME)
#undef TL_CHART_NAME
    };
    return (unsigned)id < TL_NCHART ? name[id] : "";
}

static const char *quantity_name(enum tl_chart_quantity q)
{
    static const char *const name[] = {"ammonia", "nitrite", "nitrate", "un-ionised ammonia",
                                       "oxygen", "pH", "alkalinity", ""};
    return name[q];
}

size_t tl_chart_limits(const struct tl_limits *l, struct tl_chart_limit *out, size_t room)
{
    const struct {
        enum tl_chart_quantity quantity;
        enum tl_chart_side side;
        double caution, danger;
    } row[] = {
        {TL_CHART_OF_TAN, TL_CHART_ABOVE, l->tan_caution, l->tan_danger},
        {TL_CHART_OF_NO2, TL_CHART_ABOVE, l->no2.caution, l->no2.danger},
        {TL_CHART_OF_NO3, TL_CHART_ABOVE, l->no3.caution, l->no3.danger},
        {TL_CHART_OF_NH3, TL_CHART_ABOVE, l->nh3.caution, l->nh3.danger},
        {TL_CHART_OF_O2, TL_CHART_BELOW, l->o2.caution, l->o2.danger},
        {TL_CHART_OF_PH, TL_CHART_BELOW, l->ph_low.caution, l->ph_low.danger},
        {TL_CHART_OF_PH, TL_CHART_ABOVE, l->ph_high.caution, l->ph_high.danger},
        {TL_CHART_OF_ALK, TL_CHART_BELOW, l->alk.caution * TL_CACO3_G_PER_EQ,
         l->alk.danger * TL_CACO3_G_PER_EQ},
    };
    size_t n = 0;

    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        if (isfinite(row[i].caution) && n < room)
            out[n++] = (struct tl_chart_limit){row[i].quantity, TL_CHART_CAUTION, row[i].side,
                                               row[i].caution, NULL};
        if (isfinite(row[i].danger) && n < room)
            out[n++] = (struct tl_chart_limit){row[i].quantity, TL_CHART_DANGER, row[i].side,
                                               row[i].danger, NULL};
    }
    return n;
}

/* --- one drawing --------------------------------------------------------------------------- */

struct drawing {
    const struct tl_chart_options *o;
    struct tl_chart_outcome *outcome;
    struct tl_recorded run;
    const double *t;
    double from_d, to_d;
    size_t trays;
    size_t bands;      /* 0: curves are drawn point by point */
    double band_d;     /* length of a band */
    char *folder;      /* of this drawing's own files */
    char title[2][512];
    struct tl_tick tick[TL_TICKS];
    size_t ticks;
    struct tl_word word[WORDS];
    const struct tl_chart_event *event[WORDS]; /* in order of time, one per word */
    size_t words;
    size_t unnamed;    /* events without a word */
    int word_rows;
};

static int fail(struct drawing *d, int status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static int fail(struct drawing *d, int status, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(d->outcome->fault, sizeof d->outcome->fault, format, args);
    va_end(args);
    return status;
}

static int no_memory(struct drawing *d)
{
    return fail(d, TL_E_MEMORY, "out of memory while drawing the charts");
}

static char *join(const char *folder, const char *name)
{
    char *path;
    return asprintf(&path, "%s/%s", folder, name) < 0 ? NULL : path;
}

/* Opens a file of the drawing's own folder for writing. */
static FILE *open_own(struct drawing *d, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static FILE *open_own(struct drawing *d, const char *format, ...)
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

static int close_own(struct drawing *d, FILE *f)
{
    bool bad = !f || ferror(f);
    if (f && fclose(f))
        bad = true;
    return bad ? fail(d, TL_E_IO, "%s: cannot write: %s", d->folder, strerror(errno)) : TL_OK;
}

/* --- data ---------------------------------------------------------------------------------- */

static bool is_tray_column(const char *name)
{
    if (strncmp(name, "tray", 4))
        return false;
    const char *suffix = name + 4 + strspn(name + 4, "0123456789");
    const struct panel *p = chart_table[TL_CHART_BIOFILM].panel;
    for (size_t i = 0; i < MAX_PANELS && p[i].heading; i++)
        if (!strcmp(suffix, p[i].tray_suffix))
            return true;
    return false;
}

static bool is_wanted(const char *name)
{
    if (!strcmp(name, "time_d") || !strcmp(name, "tank_o2_sat_pct") || is_tray_column(name))
        return true;
    for (size_t c = 0; c < TL_NCHART; c++)
        for (size_t p = 0; p < MAX_PANELS; p++)
            for (size_t k = 0; k < CURVES; k++) {
                const char *column = chart_table[c].panel[p].curve[k].column;
                if (column && !strcmp(column, name))
                    return true;
            }
    return false;
}

/* The saturated concentration follows from what the tank holds and how near to saturation that is;
 * it takes the place of the percentage. */
static int add_saturation(struct drawing *d)
{
    double *pct = tl_recorded_column(&d->run, "tank_o2_sat_pct");
    const double *o2 = tl_recorded_column(&d->run, "tank_o2_mg_L");

    if (!pct || !o2)
        return fail(d, TL_E_CHART, "%s has no column tank_o2_sat_pct or tank_o2_mg_L",
                    d->o->series_csv);
    for (size_t i = 0; i < d->run.rows; i++)
        pct[i] = pct[i] > 0 ? 100 * o2[i] / pct[i] : NAN;
    for (size_t i = 0; i < d->run.columns; i++)
        if (d->run.value[i] == pct) {
            free(d->run.name[i]);
            d->run.name[i] = strdup(SATURATION);
            if (!d->run.name[i]) {
                d->run.name[i] = d->run.name[d->run.columns - 1];
                free(d->run.value[i]);
                d->run.value[i] = d->run.value[--d->run.columns];
                return no_memory(d);
            }
        }
    return TL_OK;
}

/* Turns columns into the units of the axes. */
static void convert_units(struct drawing *d)
{
    for (size_t c = 0; c < TL_NCHART; c++)
        for (size_t p = 0; p < MAX_PANELS; p++) {
            const struct panel *panel = &chart_table[c].panel[p];
            for (size_t k = 0; k < CURVES && panel->dim != TL_DIM_NUMBER; k++) {
                double *v = panel->curve[k].column
                                ? tl_recorded_column(&d->run, panel->curve[k].column) : NULL;
                for (size_t i = 0; v && i < d->run.rows; i++)
                    v[i] = tl_display_value(panel->dim, d->o->units, v[i]);
            }
        }
}

static int write_points(struct drawing *d, const char *column, const double *v, size_t most)
{
    size_t *keep = malloc(most * sizeof *keep);
    FILE *f = keep ? open_own(d, "%s.dat", column) : NULL;

    if (f) {
        size_t n = tl_thin(v, d->run.rows, most, keep);
        for (size_t i = 0; i < n; i++)
            if (isfinite(v[keep[i]]))
                fprintf(f, "%.9g %.6g %.6g %.6g\n", d->t[keep[i]], v[keep[i]], v[keep[i]], v[keep[i]]);
            else
                putc('\n', f); /* a gap in the line */
    }
    if (!keep)
        return no_memory(d);
    free(keep);
    return close_own(d, f);
}

static int write_bands(struct drawing *d, const char *column, const double *v)
{
    struct tl_band *band = malloc(d->bands * sizeof *band);
    FILE *f = band ? open_own(d, "%s.dat", column) : NULL;

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
    return close_own(d, f);
}

static int write_data(struct drawing *d)
{
    int status = TL_OK;

    for (size_t i = 0; i < d->run.columns && !status; i++) {
        const char *name = d->run.name[i];
        if (!strcmp(name, "time_d"))
            continue;
        if (is_tray_column(name)) /* many curves, all of them smooth */
            status = write_points(d, name, d->run.value[i], TRAY_POINTS);
        else if (d->bands)
            status = write_bands(d, name, d->run.value[i]);
        else
            status = write_points(d, name, d->run.value[i], POINTS);
    }
    return status;
}

/* The value a curve ends with on the picture; NAN when it has none. */
static double last_value(const struct drawing *d, const double *v, bool banded)
{
    size_t i = d->run.rows;

    while (i > 0 && !isfinite(v[i - 1]))
        i--;
    if (i == 0)
        return NAN;
    if (!banded)
        return v[i - 1];
    double sum = 0, end = d->t[i - 1];
    size_t n = 0;
    for (; i > 0 && d->t[i - 1] > end - d->band_d; i--)
        if (isfinite(v[i - 1])) {
            sum += v[i - 1];
            n++;
        }
    return sum / (double)n;
}

/* --- a panel ------------------------------------------------------------------------------- */

struct name_beside { /* the name of a curve or limit, right of the plot */
    double y, label_y; /* px from the bottom of the picture */
    int style;         /* 0: no line sample (a limit outside the scale) */
    char text[96];
};

struct spot { /* one panel while it is being laid out */
    const struct panel *panel;
    const struct chart *chart;
    int top, bottom, picture; /* px from the bottom of the picture; height of the picture */
    double low, high;         /* of the axis */
    size_t extreme;           /* row of the lowest or highest value of curve 0 */
    bool empty;
    struct name_beside name[NAMES];
    size_t names;
    FILE *f;
};

enum { STYLE_CAUTION = 21, STYLE_DANGER = 22, STYLE_EVENT = 23, STYLE_TRAY = 100 };

static bool concerns(const struct panel *p, const struct tl_chart_limit *l)
{
    return isfinite(l->value) && (l->quantity == p->quantity[0] || l->quantity == p->quantity[1]) &&
           l->quantity != TL_CHART_OF_NOTHING;
}

static void take_in(struct spot *s, const struct drawing *d, const double *v)
{
    for (size_t i = 0; v && i < d->run.rows; i++)
        if (isfinite(v[i])) {
            s->low = fmin(s->low, v[i]);
            s->high = fmax(s->high, v[i]);
        }
}

static const double *tray_column(const struct drawing *d, const struct panel *p, size_t tray)
{
    char name[64];
    snprintf(name, sizeof name, "tray%02zu%s", tray, p->tray_suffix);
    return tl_recorded_column(&d->run, name);
}

static void find_range(struct spot *s, const struct drawing *d)
{
    const struct panel *p = s->panel;

    s->low = INFINITY;
    s->high = -INFINITY;
    for (size_t k = 0; k < CURVES && p->curve[k].column; k++)
        take_in(s, d, tl_recorded_column(&d->run, p->curve[k].column));
    for (size_t tray = 1; p->tray_suffix && tray <= d->trays; tray++)
        take_in(s, d, tray_column(d, p, tray));
    s->empty = !(s->low <= s->high);
    if (s->empty)
        s->low = s->high = 0;

    /* limits near enough to leave the curves room; cautions before dangers */
    if (p->range == FROM_ZERO)
        s->low = fmin(0, s->low);
    double reach = fmax(1.0, s->high - s->low), low = s->low, high = s->high;
    for (int level = TL_CHART_CAUTION; level <= TL_CHART_DANGER; level++)
        for (size_t i = 0; i < d->o->limits; i++) {
            const struct tl_chart_limit *l = &d->o->limit[i];
            if (!concerns(p, l) || (int)l->level != level)
                continue;
            bool near = p->range == AROUND_DATA
                            ? l->value >= low - reach && l->value <= high + reach
                            : l->value <= (level == TL_CHART_CAUTION ? 4 : 2.5) * s->high ||
                                  (s->high <= 0 && level == TL_CHART_CAUTION);
            if (near) {
                s->low = fmin(s->low, l->value);
                s->high = fmax(s->high, l->value);
            }
        }
    if (p->range == AROUND_DATA) {
        double spare = fmax(0.08 * (s->high - s->low), 0.5 * (0.5 - (s->high - s->low)));
        s->low -= spare;
        s->high += spare;
    } else {
        s->high = s->high > s->low ? s->high + 0.06 * (s->high - s->low) : 1;
    }
    if (p->mark == MARK_HIGHEST) /* room for its words */
        s->high += (s->high - s->low) * 30 / p->height;
}

static double y_of(const struct spot *s, double value)
{
    return s->bottom + (value - s->low) / (s->high - s->low) * (s->top - s->bottom);
}

static struct name_beside *add_name(struct spot *s, double y, int style)
{
    if (s->names == NAMES)
        return NULL;
    struct name_beside *n = &s->name[s->names++];
    *n = (struct name_beside){.y = y, .label_y = y, .style = style};
    return n;
}

static int by_y(const void *a, const void *b)
{
    double ya = ((const struct name_beside *)a)->y, yb = ((const struct name_beside *)b)->y;
    return (ya > yb) - (ya < yb);
}

static void name_curves(struct spot *s, const struct drawing *d)
{
    const struct panel *p = s->panel;
    struct name_beside *n;

    for (size_t k = 0; k < CURVES && p->curve[k].column; k++) {
        const double *v = tl_recorded_column(&d->run, p->curve[k].column);
        double end = v ? last_value(d, v, d->bands) : NAN;
        if (isfinite(end) && (n = add_name(s, y_of(s, end), p->curve[k].style)))
            snprintf(n->text, sizeof n->text, "%s", p->curve[k].name);
    }
    /* of the trays the top, the middle and the bottom one */
    size_t named[3] = {1, (d->trays + 1) / 2, d->trays};
    for (size_t k = 0; k < 3 && p->tray_suffix; k++) {
        if (d->trays == 0 || (k && named[k] == named[k - 1]))
            continue;
        const double *v = tray_column(d, p, named[k]);
        double end = v ? last_value(d, v, false) : NAN;
        if (isfinite(end) && (n = add_name(s, y_of(s, end), STYLE_TRAY + (int)named[k])))
            snprintf(n->text, sizeof n->text, "tray %zu%s", named[k],
                     d->trays == 1 ? "" : k == 0 ? " (top)" : named[k] == d->trays ? " (bottom)" : "");
    }
}

static void draw_limits(struct spot *s, const struct drawing *d)
{
    const struct panel *p = s->panel;
    bool shared = p->quantity[1] != TL_CHART_OF_NOTHING;

    for (size_t i = 0; i < d->o->limits; i++) {
        const struct tl_chart_limit *l = &d->o->limit[i];
        if (!concerns(p, l))
            continue;
        bool inside = l->value >= s->low && l->value <= s->high;
        if (!inside && s->chart->brief)
            continue;
        int style = l->level == TL_CHART_DANGER ? STYLE_DANGER : STYLE_CAUTION;
        double y = inside ? y_of(s, l->value) : l->value > s->high ? s->top : s->bottom;
        struct name_beside *n = add_name(s, y, inside ? style : 0);
        const char *text = l->text ? l->text : l->level == TL_CHART_DANGER ? "danger" : "caution";
        if (n)
            snprintf(n->text, sizeof n->text, "%s%s%.60s %.3g%s", shared && !l->text
                     ? quantity_name(l->quantity) : "", shared && !l->text ? " " : "", text, l->value,
                     inside ? "" : ": off scale");
        if (!inside)
            continue;
        fprintf(s->f, "set arrow from graph 0, first %.9g to graph 1, first %.9g nohead linestyle %d back\n",
                l->value, l->value, style);
        if (l->level == TL_CHART_DANGER && !shared)
            fprintf(s->f, "set object rectangle from graph 0, first %.9g to graph 1, graph %d "
                    "behind fillcolor rgb danger_shade fillstyle solid noborder\n",
                    l->value, l->side == TL_CHART_ABOVE);
    }
}

static void write_names(struct spot *s)
{
    double y[NAMES];

    qsort(s->name, s->names, sizeof *s->name, by_y);
    for (size_t i = 0; i < s->names; i++)
        y[i] = s->name[i].y;
    tl_spread(y, s->names, NAME_GAP, s->bottom + 4, s->top);
    for (size_t i = 0; i < s->names; i++) {
        const struct name_beside *n = &s->name[i];
        if (n->style)
            fprintf(s->f, "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle %d\n",
                    (WIDTH - RIGHT + 2.0) / WIDTH, n->y / s->picture, (WIDTH - RIGHT + 32.0) / WIDTH,
                    y[i] / s->picture, n->style);
        fprintf(s->f, "set label ");
        tl_gnuplot_quote(s->f, n->text, (RIGHT - 38.0) / SMALL_TEXT);
        fprintf(s->f, " at screen %.6f, %.6f left font small_font textcolor %s\n",
                (WIDTH - RIGHT + 36.0) / WIDTH, y[i] / s->picture,
                n->style && n->style < STYLE_CAUTION ? "rgb 'black'" : "rgb text_colour");
    }
}

/* The lowest or highest point of the first curve, with its value and time. */
static void mark_extreme(struct spot *s, const struct drawing *d)
{
    const struct panel *p = s->panel;
    size_t at = d->run.rows;
    bool lowest = p->mark == MARK_LOWEST;

    if (p->mark == MARK_NOTHING)
        return;
    const double *v = tl_recorded_column(&d->run, p->curve[0].column);
    for (size_t i = 0; i < d->run.rows; i++)
        if (isfinite(v[i]) && (at == d->run.rows || (lowest ? v[i] < v[at] : v[i] > v[at])))
            at = i;
    if (at == d->run.rows)
        return;
    double x = (d->t[at] - d->from_d) / (d->to_d - d->from_d);
    long minutes = lround(d->t[at] * 1440);
    bool under = lowest && y_of(s, v[at]) - s->bottom > 26;
    fprintf(s->f, "set label '%s %.2g mg/L, day %ld %02ld:%02ld' at first %.9g, %.9g %s offset character %s, %s "
            "point pointtype 6 pointsize 1.2 linecolor rgb 'black' front boxed font small_font\n",
            lowest ? "lowest" : "highest", v[at], minutes / 1440, minutes / 60 % 24, minutes % 60,
            d->t[at], v[at], x < 0.2 ? "left" : x > 0.8 ? "right" : "center",
            x < 0.2 ? "0.8" : x > 0.8 ? "-0.8" : "0", under ? "-1" : "1");
}

static void write_frame(struct spot *s, const struct drawing *d, bool last)
{
    const struct panel *p = s->panel;
    char heading[160];

    snprintf(heading, sizeof heading, "%s", p->heading);
    if (p->dim != TL_DIM_NUMBER) {
        size_t before = strcspn(p->heading, "%");
        snprintf(heading, sizeof heading, "%.*s%s", (int)before, p->heading,
                 tl_display_unit(p->dim, d->o->units));
    }
    fprintf(s->f, "unset label; unset arrow; unset object\n"
            "set lmargin at screen %.6f; set rmargin at screen %.6f\n"
            "set tmargin at screen %.6f; set bmargin at screen %.6f\n",
            (double)LEFT / WIDTH, 1 - (double)RIGHT / WIDTH, (double)s->top / s->picture,
            (double)s->bottom / s->picture);
    fprintf(s->f, "set xrange [%.9g:%.9g]; set yrange [%.9g:%.9g]\nset ytics %.9g\nset label ",
            d->from_d, d->to_d, s->low, s->high,
            tl_nice_step(s->high - s->low, fmax(3, (s->top - s->bottom) / 45.0)));
    tl_gnuplot_quote(s->f, heading, (double)(WIDTH - 40) / TEXT);
    fprintf(s->f, " at screen 0.02, %.6f left front boxed font heading_font\n",
            (s->top + HEADING * 0.5) / s->picture);
    /* our own texts of two lines, so in double quotes */
    fprintf(s->f, "set xtics (");
    for (size_t i = 0; i < d->ticks; i++) {
        const struct tl_tick *k = &d->tick[i];
        fprintf(s->f, "%s\"%s%s%s\" %.9g", i ? ", " : "", last ? k->clock : "", last ? "\\n" : "",
                last ? k->date : "", k->t_d);
    }
    fprintf(s->f, ")\n");
    if (s->empty)
        fprintf(s->f, "set label 'no values recorded' at graph 0.5, 0.5 center\n");
}

static void draw_events(const struct spot *s, const struct drawing *d)
{
    for (size_t i = 0; i < d->words; i++) {
        const struct tl_chart_event *e = d->event[i];
        if (e->end_d > e->t_d)
            fprintf(s->f, "set object rectangle from first %.9g, graph 0 to first %.9g, graph 1 behind "
                    "fillcolor rgb event_shade fillstyle solid noborder\n",
                    e->t_d, fmin(e->end_d, d->to_d));
        fprintf(s->f, "set arrow from first %.9g, graph 0 to first %.9g, graph 1 nohead linestyle %d back\n",
                e->t_d, e->t_d, STYLE_EVENT);
    }
}

static int write_panel(struct spot *s, struct drawing *d, enum tl_chart_id id, size_t index, bool last)
{
    s->f = open_own(d, "%s_%zu.gp", tl_chart_name(id), index + 1);
    if (s->f) {
        find_range(s, d);
        write_frame(s, d, last);
        draw_events(s, d);
        name_curves(s, d);
        draw_limits(s, d);
        write_names(s);
        mark_extreme(s, d);
    }
    return close_own(d, s->f);
}

/* --- a chart ------------------------------------------------------------------------------- */

/* The words above the first panel: title, subject, notes, events. `top` is that panel's, in px. */
static void write_words(struct drawing *d, const struct chart *c, FILE *f, int top, int picture)
{
    double y = picture - 8 - TITLE_LINE * 0.5;

    for (size_t i = 0; i < 2; i++)
        if (*d->title[i]) {
            fprintf(f, "set label ");
            tl_gnuplot_quote(f, d->title[i], 1e6);
            fprintf(f, " at screen 0.02, %.6f left font title_font\n", y / picture);
            y -= TITLE_LINE;
        }
    y -= (SUBJECT_LINE - TITLE_LINE) * 0.5;
    fprintf(f, "set label '%s' at screen 0.02, %.6f left font subject_font\n", c->subject, y / picture);
    char note[160] = "";
    if (d->bands && !c->panel[0].tray_suffix)
        snprintf(note, sizeof note, d->band_d > 1
                 ? "Line: mean of every %.0f days; shaded: their lowest to highest."
                 : "Line: mean of each day; shaded: the day\u2019s lowest to highest.", d->band_d);
    if (d->unnamed)
        snprintf(note + strlen(note), sizeof note - strlen(note), "%s%zu more event%s not shown.",
                 *note ? " " : "", d->unnamed, d->unnamed == 1 ? "" : "s");
    fprintf(f, "set label '%s' at screen 0.985, %.6f right font small_font textcolor rgb text_colour\n",
            note, y / picture);
    for (size_t i = 0; i < d->words; i++) {
        const struct tl_word *w = &d->word[i];
        double row = top + HEADING + WORD_LINE * (w->row + 0.5);
        fprintf(f, "set arrow from first %.9g, graph 1 to first %.9g, screen %.6f nohead linestyle %d\n",
                d->event[i]->t_d, d->event[i]->t_d, (row + 7) / picture, STYLE_EVENT);
        fprintf(f, "set label ");
        tl_gnuplot_quote(f, d->event[i]->text, 30);
        fprintf(f, " at screen %.6f, %.6f %s font small_font\n",
                (w->x + (w->to_the_left ? -4 : 4)) / WIDTH, row / picture,
                w->to_the_left ? "right" : "left");
    }
}

/* Writes the chart's panels; *height becomes the picture's, in px. */
static int write_chart(struct drawing *d, enum tl_chart_id id, int *height)
{
    const struct chart *c = &chart_table[id];
    size_t panels = 0;
    int head = 8 + SUBJECT_LINE + WORD_LINE * d->word_rows, picture = head + BELOW - GAP;
    int status = TL_OK;

    for (size_t i = 0; i < 2; i++)
        head += *d->title[i] ? TITLE_LINE : 0;
    picture = head + BELOW - GAP;
    for (; panels < MAX_PANELS && c->panel[panels].heading; panels++)
        picture += HEADING + c->panel[panels].height + GAP;
    int top = picture - head - HEADING;
    for (size_t i = 0; i < panels && !status; i++) {
        struct spot s = {.panel = &c->panel[i], .chart = c, .top = top,
                         .bottom = top - c->panel[i].height, .picture = picture};
        status = write_panel(&s, d, id, i, i + 1 == panels);
        top = s.bottom - GAP - HEADING;
    }
    if (!status) {
        FILE *f = open_own(d, "%s_words.gp", tl_chart_name(id));
        if (f)
            write_words(d, c, f, picture - head - HEADING, picture);
        status = close_own(d, f);
    }
    *height = picture;
    return status;
}

static int by_time(const void *a, const void *b)
{
    const struct tl_chart_event *ea = *(const struct tl_chart_event *const *)a,
                                *eb = *(const struct tl_chart_event *const *)b;
    return ea->t_d != eb->t_d ? (ea->t_d > eb->t_d) - (ea->t_d < eb->t_d) : (ea > eb) - (ea < eb);
}

/* Chooses the events to show, in order of time, and gives each word its place. */
static void place_events(struct drawing *d)
{
    size_t n = 0;
    char clean[256];

    for (size_t i = 0; i < d->o->events; i++) {
        const struct tl_chart_event *e = &d->o->event[i];
        if (!(e->t_d >= d->from_d && e->t_d <= d->to_d) || !e->text)
            continue;
        if (d->words < WORDS)
            d->event[d->words++] = e;
        else
            d->unnamed++;
    }
    qsort(d->event, d->words, sizeof *d->event, by_time);
    for (size_t i = 0; i < d->words; i++) {
        tl_text_clean(d->event[i]->text, 30, false, clean, sizeof clean);
        d->word[i] = (struct tl_word){
            .x = LEFT + (d->event[i]->t_d - d->from_d) / (d->to_d - d->from_d) * PLOT_WIDTH,
            .width = tl_text_width(clean) * SMALL_TEXT + 12};
    }
    d->word_rows = tl_place_words(d->word, d->words, WORD_ROWS, LEFT, WIDTH - 10);
    for (size_t i = 0; i < d->words; i++)
        if (d->word[i].row >= 0) {
            d->word[n] = d->word[i];
            d->event[n++] = d->event[i];
        } else
            d->unnamed++;
    d->words = n;
}

static void split_title(struct drawing *d)
{
    const char *title = d->o->title ? d->o->title : "";
    double width = (WIDTH - 60.0) / TITLE_TEXT / 1.08; /* bold is wider */
    size_t used = tl_text_clean(title, width, true, d->title[0], sizeof d->title[0]);
    tl_text_clean(title + used, width, false, d->title[1], sizeof d->title[1]);
}

/* --- gnuplot ------------------------------------------------------------------------------- */

static const struct {
    unsigned bit;
    const char *ending, *terminal;
} format_table[] = {
    {TL_CHART_PNG, "png", "pngcairo noenhanced size %d,%d font 'sans-serif,%d' linewidth 1"},
    {TL_CHART_SVG, "svg", "svg noenhanced size %d,%d font 'sans-serif,%d' linewidth 1 background 'white'"},
    {TL_CHART_PDF, "pdf", "pdfcairo noenhanced size %d/72.0,%d/72.0 font 'sans-serif,%d' fontscale 1 "
                          "linewidth 1"},
};
enum { FORMATS = sizeof format_table / sizeof *format_table };

static bool in_use(const struct drawing *d, size_t format)
{
    unsigned wanted = d->o->formats ? d->o->formats : TL_CHART_PNG | TL_CHART_SVG;
    return wanted & format_table[format].bit;
}

/* One script that draws all; first two probes that are the same only when no font was found. */
static int write_main(struct drawing *d)
{
    int height[TL_NCHART], status = TL_OK;

    for (size_t c = 0; c < TL_NCHART && !status; c++)
        status = write_chart(d, (enum tl_chart_id)c, &height[c]);
    if (status)
        return status;
    FILE *f = open_own(d, "main.gp");
    if (f) {
        fprintf(f, "set encoding utf8\ntrays = %zu\n", d->trays);
        for (int probe = 1; probe <= 2 && in_use(d, 0); probe++)
            fprintf(f, "set terminal pngcairo noenhanced size 80,40 font 'sans-serif,%d'\n"
                    "set output 'probe_%d.png'\nunset border; unset tics\n"
                    "set label 1 '%s' at screen 0.1, 0.5\nplot [0:1] [0:1] 2 notitle\nset output\n",
                    TEXT, probe, probe == 1 ? "Wag" : "");
        for (size_t k = 0; k < FORMATS; k++)
            for (size_t c = 0; c < TL_NCHART && in_use(d, k); c++) {
                const char *name = tl_chart_name((enum tl_chart_id)c);
                fprintf(f, "set terminal ");
                fprintf(f, format_table[k].terminal, WIDTH, height[c], TEXT);
                fprintf(f, "\nset output '%s.%s'\nload 'style.gp'\nload '%s.gp'\nset output\n", name,
                        format_table[k].ending, name);
            }
    }
    return close_own(d, f);
}

static int copy_script(struct drawing *d, const char *from, const char *name)
{
    char file[64], buffer[4096];
    snprintf(file, sizeof file, "%s.gp", name);
    char *path = join(from, file);
    FILE *in = path ? fopen(path, "re") : NULL;
    int status = TL_OK;

    if (!path)
        status = no_memory(d);
    else if (!in)
        status = fail(d, TL_E_IO, "%s: %s", path, strerror(errno));
    else {
        FILE *out = open_own(d, "%s", file);
        for (size_t n; out && (n = fread(buffer, 1, sizeof buffer, in)) > 0;)
            fwrite(buffer, 1, n, out);
        status = close_own(d, out);
        fclose(in);
    }
    free(path);
    return status;
}

/* gnuplot loads the scripts from its own folder, so that no path of the user is ever in a script. */
static int copy_scripts(struct drawing *d)
{
    const char *from = d->o->plots_dir;
    struct stat st;

    if (!from)
        from = !stat(TL_PLOTS_BUILD_DIR, &st) && S_ISDIR(st.st_mode) ? TL_PLOTS_BUILD_DIR
                                                                     : TL_PLOTS_INSTALL_DIR;
    int status = copy_script(d, from, "style");
    for (size_t c = 0; c < TL_NCHART && !status; c++)
        status = copy_script(d, from, tl_chart_name((enum tl_chart_id)c));
    return status;
}

static int run_gnuplot(struct drawing *d)
{
    struct tl_gnuplot_result r;
    double limit = d->o->time_limit_s > 0 ? d->o->time_limit_s : 60;
    int status = tl_gnuplot_run(d->folder, "main.gp", limit, d->o->interrupted, &r);

    if (!status)
        return TL_OK;
    if (r.interrupted)
        return fail(d, TL_E_INTERRUPTED, "interrupted while drawing the charts");
    if (r.not_found) {
        d->outcome->lacks = TL_CHART_LACKS_GNUPLOT;
        return fail(d, TL_E_CHART, "no charts: gnuplot is not installed (on Debian: apt install "
                    "gnuplot-nox)");
    }
    if (r.timed_out)
        return fail(d, TL_E_CHART, "gnuplot did not finish within %g s and was stopped", limit);
    return fail(d, status, "gnuplot failed: %s", *r.said ? r.said : "it gave no reason");
}

static int put_in_place(struct drawing *d, const char *name)
{
    char *own = join(d->folder, name), *final = join(d->o->out_dir, name), why[64];
    int status = TL_OK;

    if (!own || !final)
        status = no_memory(d);
    else if (!tl_picture_whole(own, why, sizeof why))
        status = fail(d, TL_E_CHART, "gnuplot's picture %s %s", name, why);
    else if (rename(own, final))
        status = fail(d, TL_E_IO, "%s: %s", final, strerror(errno));
    else
        d->outcome->pictures++;
    free(own);
    free(final);
    return status;
}

static int collect_pictures(struct drawing *d)
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
        status = fail(d, TL_E_CHART, "no font was found, so only the SVG charts were drawn (on Debian: "
                      "apt install fonts-dejavu-core)");
    }
    return status;
}

/* --- from start to end --------------------------------------------------------------------- */

static int make_folder(struct drawing *d)
{
    if (mkdir(d->o->out_dir, 0777) && errno != EEXIST)
        return fail(d, TL_E_IO, "%s: %s", d->o->out_dir, strerror(errno));
    char *folder = join(d->o->out_dir, ".drawing-XXXXXX");
    if (!folder)
        return no_memory(d);
    if (!mkdtemp(folder)) {
        free(folder);
        return fail(d, TL_E_IO, "%s: %s", d->o->out_dir, strerror(errno));
    }
    d->folder = folder;
    return TL_OK;
}

static void remove_folder(struct drawing *d)
{
    DIR *dir = d->folder ? opendir(d->folder) : NULL;

    if (dir) {
        for (struct dirent *e; (e = readdir(dir));)
            unlinkat(dirfd(dir), e->d_name, 0); /* "." and ".." refuse */
        closedir(dir);
        rmdir(d->folder);
    }
    free(d->folder);
}

static int prepare(struct drawing *d)
{
    const struct tl_calendar start = {d->o->start_year, d->o->start_month, d->o->start_day};
    int status = tl_recorded_read(d->o->series_csv, is_wanted, &d->run, d->outcome->fault,
                                  sizeof d->outcome->fault);
    if (status || (status = add_saturation(d)))
        return status;
    for (size_t c = 0; c < TL_NCHART; c++)
        for (size_t p = 0; p < MAX_PANELS; p++)
            for (size_t k = 0; k < CURVES; k++) {
                const char *column = chart_table[c].panel[p].curve[k].column;
                if (column && !tl_recorded_column(&d->run, column))
                    return fail(d, TL_E_CHART, "%s has no column %s", d->o->series_csv, column);
            }
    while (tray_column(d, chart_table[TL_CHART_BIOFILM].panel, d->trays + 1))
        d->trays++;
    convert_units(d);
    d->t = tl_recorded_column(&d->run, "time_d");
    d->from_d = d->t[0];
    d->to_d = d->t[d->run.rows - 1];
    double span = d->to_d - d->from_d;
    if (span > BAND_FROM_D && (double)d->run.rows / span >= 4) {
        d->band_d = ceil(span / MAX_BANDS);
        d->bands = tl_band_count(d->t, d->run.rows, d->band_d);
    }
    d->ticks = tl_time_ticks(&start, d->from_d, d->to_d, PLOT_WIDTH, d->tick);
    split_title(d);
    place_events(d);
    return TL_OK;
}

int tl_charts_draw(const struct tl_chart_options *o, struct tl_chart_outcome *outcome)
{
    struct drawing d = {.o = o, .outcome = outcome};
    locale_t points = newlocale(LC_ALL_MASK, "C", (locale_t)0), before = (locale_t)0;
    int status = TL_E_MEMORY;

    *outcome = (struct tl_chart_outcome){0};
    if (!points)
        goto done;
    before = uselocale(points); /* this thread writes and reads decimal points */
    if (!(status = prepare(&d)) && !(status = make_folder(&d)) && !(status = copy_scripts(&d)) &&
        !(status = write_data(&d)) && !(status = write_main(&d)) && !(status = run_gnuplot(&d)))
        status = collect_pictures(&d);
done:
    remove_folder(&d);
    tl_recorded_free(&d.run);
    if (points) {
        uselocale(before);
        freelocale(points);
    }
    return status;
}
