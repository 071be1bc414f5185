/* From the tally of a spread to its charts. */
#include "spread_drawing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "driver_chart.h"
#include "fan_chart.h"
#include "place.h"
#include "posix.h"
#include "run_charts.h"
#include "spread_drivers.h"
#include "spread_merge.h"
#include "text.h"
#include "towerloop/status.h"

#define WHY_SIZE 1024

enum { SUBJECT = 96, AXIS = 64, DRIVERS = 6, PANEL_NAME = 128, NAME_MOST = 54 };

/* Fans: name, quantity or the other side of it, word on its axis. */
enum { FANS = 6 };
static const struct fan {
    const char *chart, *axis;
    enum tl_limit_id limit, other; /* of two sides the one that is broken more often is drawn */
    enum tl_dim dim;
    bool from_zero;
} fan_row[FANS] = {
    {"spread_oxygen", "Oxygen in the tank", TL_LIMIT_O2, TL_LIMIT_O2, TL_DIM_NUMBER, false},
    {"spread_ammonia", "Total ammonia in the tank", TL_LIMIT_TAN_ACUTE, TL_LIMIT_TAN_ACUTE,
     TL_DIM_NUMBER, true},
    {"spread_unionised_ammonia", "Un-ionised ammonia in the tank", TL_LIMIT_NH3, TL_LIMIT_NH3,
     TL_DIM_NUMBER, true},
    {"spread_nitrite", "Nitrite in the tank", TL_LIMIT_NO2, TL_LIMIT_NO2, TL_DIM_NUMBER, true},
    {"spread_ph", "pH in the tank", TL_LIMIT_PH_LOW, TL_LIMIT_PH_HIGH, TL_DIM_NUMBER, false},
    {"spread_temperature", "Temperature of the water", TL_LIMIT_WARM, TL_LIMIT_COLD,
     TL_DIM_TEMPERATURE, false},
};

static const char drivers_chart[] = "drivers", shares_chart[] = "sensitivity";
const char *const tl_spread_charts[] = {
    "spread_oxygen",  "spread_ammonia", "spread_unionised_ammonia",
    "spread_nitrite", "spread_ph",      "spread_temperature",
    drivers_chart,    shares_chart,     NULL};

static size_t broken(const struct tl_tally *t, enum tl_limit_id id)
{
    return t->limit[id].caution;
}

/* --- fans --------------------------------------------------------------------------------------- */

struct sheet {
    const struct tl_tally *t;
    enum tl_unit_system units;
    struct tl_fan_chart fan[FANS];
    char subject[FANS][SUBJECT], axis[FANS][AXIS];
    struct tl_fan_row *row; /* [FANS][intervals] */
    struct tl_run_events events;
};

/* Where one value is the limit. Those of total ammonia follow pH and temperature unless they were set, and
 * salt moves that of nitrite. */
static struct tl_limit_pair pair_of(const struct tl_scenario *s, enum tl_limit_id id)
{
    const struct tl_limits *l = &s->limits;
    switch (id) {
    case TL_LIMIT_O2:
        return l->o2;
    case TL_LIMIT_NH3:
        return l->nh3;
    case TL_LIMIT_TAN_ACUTE:
        return (struct tl_limit_pair){l->tan_caution, l->tan_danger};
    case TL_LIMIT_NO2:
        return l->no2;
    case TL_LIMIT_PH_LOW:
        return l->ph_low;
    case TL_LIMIT_PH_HIGH:
        return l->ph_high;
    case TL_LIMIT_COLD:
        return l->cold;
    default:
        return l->warm;
    }
}

static const char *note_of(const struct tl_scenario *s, enum tl_limit_id id)
{
    if (id == TL_LIMIT_TAN_ACUTE && isnan(s->limits.tan_danger))
        return "The limits of total ammonia move with pH and temperature, so no line is drawn.";
    if (id == TL_LIMIT_NO2)
        return "Salt raises the danger value of nitrite; the line is that of water without salt.";
    return "A limit may be judged by a mean over hours or days, so a short step over a line need "
           "not "
           "count.";
}

/* "of each hour", "of each day", "of every 3 days" */
static void say_interval(const struct tl_intervals *v, char *text, size_t size)
{
    if (v->length_d > 1.5)
        (void)tl_format(text, size, "of every %.0f days", v->length_d);
    else
        (void)tl_format(text, size, "of each %s", v->length_d < 0.5 ? "hour" : "day");
}

static void fill_fan(struct sheet *h, size_t k)
{
    static const double share[TL_FAN_SHARES] = {0.05, 0.25, 0.5, 0.75, 0.95};
    const struct tl_tally *t = h->t;
    const struct tl_intervals *v = &t->spread->intervals;
    const struct fan *f = &fan_row[k];
    const enum tl_limit_id id = broken(t, f->other) > broken(t, f->limit) ? f->other : f->limit;
    const enum tl_watched_id watched = tl_limit_watched(id);
    const struct tl_watched *w = tl_watched(watched);
    const struct tl_limit_pair limit = pair_of(t->spread->scenario, id);
    struct tl_fan_row *row = h->row + k * v->count;
    char each[32];

    for (size_t i = 0; i < v->count; i++) {
        row[i].t_d = tl_interval_middle(v, i);
        for (size_t j = 0; j < TL_FAN_SHARES; j++)
            row[i].share[j] =
                tl_display_value(f->dim, h->units, tl_tally_fan(t, watched, i, share[j]));
    }
    say_interval(v, each, sizeof each);
    const char *unit =
        f->dim == TL_DIM_NUMBER ? w->unit : tl_display_unit(TL_DIM_TEMPERATURE, h->units);
    (void)tl_format(h->axis[k], AXIS, "%s%s%s", f->axis, *unit ? ", " : "", unit);
    (void)tl_format(h->subject[k], SUBJECT, "%s %s %s, in %zu runs",
                    w->below ? "Lowest" : "Highest", w->name, each, t->runs);
    h->fan[k] = (struct tl_fan_chart){.name = f->chart,
                                      .subject = h->subject[k],
                                      .y_name = h->axis[k],
                                      .row = row,
                                      .rows = v->count,
                                      .caution = tl_display_value(f->dim, h->units, limit.caution),
                                      .danger = tl_display_value(f->dim, h->units, limit.danger),
                                      .side = w->below ? TL_CHART_BELOW : TL_CHART_ABOVE,
                                      .from_zero = f->from_zero,
                                      .note = note_of(t->spread->scenario, id)};
}

static struct tl_chart_options options_of(const struct sheet *h, const char *folder)
{
    const struct tl_scenario *s = h->t->spread->scenario;
    return (struct tl_chart_options){.out_dir = folder,
                                     .title = s->title,
                                     .start_year = s->start.year,
                                     .start_month = s->start.month,
                                     .start_day = s->start.day,
                                     .event = h->events.event,
                                     .events = h->events.events,
                                     .interrupted = &tl_interrupted};
}

/* --- what drives the risk ----------------------------------------------------------------------- */

struct drivers {
    struct tl_driver_panel panel[TL_DRIVER_PANELS];
    char name[TL_DRIVER_PANELS][PANEL_NAME];
    struct tl_driver_bar bar[TL_DRIVER_PANELS][DRIVERS];
    char label[TL_DRIVER_PANELS][DRIVERS][TL_SPREAD_LABEL];
    size_t panels;
};

/* Those broken most often first, danger before caution; with none broken, in the order of the limits. */
static bool is_riskier(const struct tl_tally *t, int a, int b)
{
    const struct tl_tally_limit *x = &t->limit[a], *y = &t->limit[b];
    return x->danger != y->danger ? x->danger > y->danger : x->caution > y->caution;
}

static void name_panel(const struct tl_tally *t, enum tl_limit_id id, char name[PANEL_NAME])
{
    const bool danger = t->limit[id].danger > 0;
    const struct tl_chance c = tl_tally_limit_beyond(t, id, danger ? TL_DANGER : TL_CAUTION);
    char text[TL_CHANCE_SIZE];
    tl_chance_share_text(&c, text);
    (void)tl_format(name, PANEL_NAME, "%s, beyond %s in %s", tl_spread_limit_name(id),
                    danger ? "danger" : "caution", text);
}

/* The words alone where the key has no room beside them. */
static const char *label(const struct tl_spread_input *input, char text[TL_SPREAD_LABEL])
{
    tl_spread_label(input, text);
    if (tl_utf8_width(text) > NAME_MOST)
        tl_spread_words(input->path, text);
    return text;
}

static void add_panel(struct drivers *d, const struct tl_tally *t, enum tl_limit_id id)
{
    struct tl_spread_driver driver[DRIVERS];
    const size_t n = tl_spread_drivers(t, id, 0.005, driver, DRIVERS), k = d->panels;
    if (n == 0)
        return;
    for (size_t i = 0; i < n; i++)
        d->bar[k][i] = (struct tl_driver_bar){
            .name = label(&t->spread->input[driver[i].input], d->label[k][i]),
            .value = driver[i].worse,
            .whole = NAN};
    name_panel(t, id, d->name[k]);
    d->panel[k] = (struct tl_driver_panel){d->name[k], d->bar[k], n};
    d->panels++;
}

/* The same with the sensitivity indices. */
static void add_shares(struct drivers *d, const struct tl_tally *t, enum tl_limit_id id)
{
    struct tl_indices found;
    size_t input[DRIVERS];
    tl_tally_indices(t, id, &found);
    const size_t n = tl_spread_shares(t, &found, 0.005, input, DRIVERS), k = d->panels;
    if (n == 0)
        return;
    for (size_t i = 0; i < n; i++)
        d->bar[k][i] =
            (struct tl_driver_bar){.name = label(&t->spread->input[input[i]], d->label[k][i]),
                                   .value = tl_spread_alone(&found.input[input[i]]),
                                   .whole = found.input[input[i]].total};
    name_panel(t, id, d->name[k]);
    d->panel[k] = (struct tl_driver_panel){d->name[k], d->bar[k], n};
    d->panels++;
}

static void choose_panels(struct drivers *d, const struct tl_tally *t,
                          void (*add)(struct drivers *, const struct tl_tally *, enum tl_limit_id))
{
    int order[TL_NLIMIT];
    size_t n = 0;
    bool any = false;
    for (int i = 0; i < TL_NLIMIT; i++) {
        size_t at = n++;
        any |= broken(t, (enum tl_limit_id)i) > 0;
        for (; at > 0 && is_riskier(t, i, order[at - 1]); at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
    for (size_t i = 0; i < n && d->panels < TL_DRIVER_PANELS; i++)
        if (!any || broken(t, (enum tl_limit_id)order[i]) > 0)
            add(d, t, (enum tl_limit_id)order[i]);
}

static int draw_shares(const struct sheet *h, const struct tl_chart_options *o,
                       struct tl_chart_outcome *outcome)
{
    struct drivers d = {.panels = 0};
    char subject[SUBJECT];
    choose_panels(&d, h->t, add_shares);
    if (d.panels == 0)
        return TL_OK;
    (void)tl_format(subject, sizeof subject,
                    "What makes the worst value uncertain, by %zu times %zu runs", h->t->runs,
                    tl_spread_others(h->t->spread) + 1);
    const struct tl_driver_chart c = {
        .name = shares_chart,
        .subject = subject,
        .panel = d.panel,
        .panels = d.panels,
        .right = "share of the variance",
        .note = "Dark, first figure: what would go if this input alone were known. Pale, second: "
                "what would stay if all others were."};
    return tl_driver_chart_draw(&c, o, outcome);
}

static int draw_drivers(const struct sheet *h, const struct tl_chart_options *o,
                        struct tl_chart_outcome *outcome)
{
    struct drivers d = {.panels = 0};
    char subject[SUBJECT];
    choose_panels(&d, h->t, add_panel);
    if (d.panels == 0)
        return TL_OK;
    (void)tl_format(subject, sizeof subject, "What drives the risk, in %zu runs", h->t->runs);
    const struct tl_driver_chart c = {
        .name = drivers_chart,
        .subject = subject,
        .panel = d.panel,
        .panels = d.panels,
        .two_sides = true,
        .left = "more of it: better",
        .right = "more of it: worse",
        .note = "Rank correlation of each input with the worst value of the limit: 0, it has no "
                "bearing on it; 1 or -1, it alone decides."};
    return tl_driver_chart_draw(&c, o, outcome);
}

/* --- all of them -------------------------------------------------------------------------------- */

static int draw_fans(struct sheet *h, const struct tl_chart_options *o,
                     struct tl_chart_outcome *outcome)
{
    if (h->t->spread->intervals.count < 2) /* of an hour or less there is nothing to draw */
        return TL_OK;
    for (size_t k = 0; k < FANS; k++)
        fill_fan(h, k);
    return tl_fan_charts_draw(h->fan, FANS, o, outcome);
}

int tl_spread_draw(const struct tl_tally *t, enum tl_unit_system units, unsigned formats,
                   const char *folder, struct tl_chart_outcome *outcome)
{
    const struct tl_scenario *s = t->spread->scenario;
    struct sheet h = {.t = t, .units = units};
    int status = TL_E_MEMORY;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    h.row = calloc(FANS * t->spread->intervals.count, sizeof *h.row);
    if (tl_run_events_list(s, units, &h.events) == TL_OK && h.row) {
        struct tl_chart_options o = options_of(&h, folder);
        o.formats = formats;
        status = draw_fans(&h, &o, outcome);
        if (status == TL_OK)
            status = draw_drivers(&h, &o, outcome);
        if (status == TL_OK && t->spread->sensitivity)
            status = draw_shares(&h, &o, outcome);
    }
    free(h.row);
    tl_run_events_free(&h.events);
    return status;
}

/* --- again -------------------------------------------------------------------------------------- */

int tl_spread_draw_again(const char *folder, enum tl_unit_system units, unsigned formats,
                         const char *place)
{
    const char *const part[] = {folder};
    struct tl_merge m;
    struct tl_tally tally = {.room = NULL};
    struct tl_chart_outcome outcome;
    char why[WHY_SIZE] = "";
    char *blocks = tl_place_below(folder, TL_SPREAD_BLOCKS);
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    if (!blocks)
        return TL_E_MEMORY;
    const bool there = tl_posix_look(blocks, &kind) == TL_OK && kind == TL_POSIX_FOLDER;
    free(blocks);
    if (!there) {
        tl_complain("%s holds no runs to draw from; expected the folder of towerloop spread, or "
                    "towerloop merge again, with --force and the folders of the parts",
                    folder);
        return TL_E_INPUT;
    }
    int status = tl_merge_open(part, 1, &m, why, sizeof why);
    if (status == TL_OK)
        status = tl_tally_new(&m.spread, &tally);
    if (status == TL_OK)
        status = tl_spread_collect(&m.spread, (const char *const *)m.folder, m.folders,
                                   &tl_interrupted, &tally, why, sizeof why);
    if (status == TL_OK) {
        status = tl_spread_draw(&tally, units, formats, place, &outcome);
        (void)tl_complain_charts(status, &outcome);
    } else if (status != TL_E_MEMORY && status != TL_E_INTERRUPTED) {
        tl_complain("%s", *why ? why : tl_status_text(status));
    }
    tl_tally_free(&tally);
    tl_merge_close(&m);
    return status;
}
