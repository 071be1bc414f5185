/* The pump of the scenario: its flow, or its curve with head and pipe, and what they come to. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "reader.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"

#define HOURS_A_DAY 24.0
#define POINT       "pump.curve[]"
#define MOST_LEFT   0.5  /* of the flow, below which fouling calls for a word */
#define A_LITTLE    1.01 /* what a figure may be off by that was rounded by hand */

#define FIELD(base, key, type)    ((type *)((char *)(base) + (key)->offset))
#define FIELD_OF(base, key, type) ((const type *)((const char *)(base) + (key)->offset))

/* --- values ---------------------------------------------------------------------------------- */

/* A flow that follows from a curve is not written: both together are refused. */
static void flow_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    tl_read_number(r, n, key, FIELD(base, key, double));
}
static bool flow_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_scenario *s = base;
    if (s->setup.pump.curve.n > 0)
        return false;
    tl_write_number(out, key->dim, *FIELD_OF(base, key, double));
    return true;
}
const struct tl_value_type tl_type_pump_flow = {
    .name = "a quantity",
    .read = flow_read,
    .write = flow_write,
    TL_FORMS(TL_NUMBER_FORM),
};

struct point {
    struct tl_curve_point p;
    struct tl_node *n;
};

static int by_head(const void *a, const void *b)
{
    const struct point *x = a;
    const struct point *y = b;
    if (x->p.head_m != y->p.head_m)
        return x->p.head_m < y->p.head_m ? -1 : 1;
    return (x->n->line > y->n->line) - (x->n->line < y->n->line);
}

static int keep_curve(const struct point *point, size_t count, struct tl_table *out)
{
    struct tl_table t = {.x = malloc(count * sizeof *t.x), .y = malloc(count * sizeof *t.y)};
    if (!t.x || !t.y) {
        tl_table_free(&t);
        return TL_E_MEMORY;
    }
    for (; t.n < count; t.n++) {
        t.x[t.n] = point[t.n].p.head_m;
        t.y[t.n] = point[t.n].p.flow_m3_d;
    }
    tl_table_free(out);
    *out = t;
    return TL_OK;
}

/* In the order of head: the flow falls, in the end to nothing. */
static bool check_curve(struct tl_reader *r, struct tl_node *list, const struct point *point,
                        size_t count)
{
    bool falls = true;
    for (size_t i = 1; i < count; i++) {
        if (point[i].p.head_m > point[i - 1].p.head_m &&
            point[i].p.flow_m3_d < point[i - 1].p.flow_m3_d)
            continue;
        tl_fault(r, point[i].n, "less flow at more head, and each head once",
                 "the flow does not fall from a head of %.4g m to one of %.4g m",
                 point[i - 1].p.head_m, point[i].p.head_m);
        falls = false;
    }
    if (falls && point[count - 1].p.flow_m3_d > 0)
        tl_fault(r, list, "a point with a flow of 0: the greatest head on the pump's label",
                 "the curve does not end");
    return falls && point[count - 1].p.flow_m3_d == 0;
}

static void curve_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    static const char expected[] = "from 2 to 50 points, as [{head: 0 ft, flow: 1800 gal/h}, "
                                   "{head: 10 ft, flow: 0 gal/h}]";
    struct tl_setup *s = FIELD(base, key, struct tl_setup);
    struct point point[TL_MOST_CURVE_POINTS];
    const size_t count = n->kind == TL_NODE_LIST ? tl_node_count(n) : 0;
    const size_t errors = r->diag->errors;
    size_t read = 0;
    if (n->kind != TL_NODE_LIST) {
        tl_fault(r, n, expected, "this is not a list");
        return;
    }
    if (count < 2 || count > TL_MOST_CURVE_POINTS) {
        tl_fault(r, n, expected, count < 2 ? "too few points" : "too many points");
        return;
    }
    for (struct tl_node *c = n->first; c; c = c->next, read++) {
        point[read] = (struct point){{NAN, NAN}, c};
        tl_read_item(r, c, POINT, &point[read].p);
    }
    if (r->diag->errors != errors || r->cut)
        return;
    qsort(point, count, sizeof *point, by_head);
    if (check_curve(r, n, point, count) && keep_curve(point, count, &s->pump.curve))
        r->out_of_memory = true;
}
static bool curve_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_table *t = &FIELD_OF(base, key, struct tl_setup)->pump.curve;
    for (size_t i = 0; i < t->n; i++) {
        const struct tl_curve_point p = {.head_m = t->x[i], .flow_m3_d = t->y[i]};
        tl_text_add(out, i > 0 ? ", " : "[");
        tl_write_item(out, POINT, &p);
    }
    if (t->n > 0)
        tl_text_add(out, "]");
    return t->n > 0;
}
const struct tl_value_type tl_type_pump_curve = {
    .name = "a list of points",
    .read = curve_read,
    .write = curve_write,
    TL_FORMS({.kind = TL_FORM_LIST, .below = POINT, .filled = true}),
};

static void pipe_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    tl_type_section.read(r, n, key, base);
}
static bool pipe_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_scenario *s = base;
    if (isnan(s->setup.pump.pipe.length_m))
        return false;
    tl_write_item(out, key->path, base);
    return true;
}
const struct tl_value_type tl_type_pipe = {
    .name = "keys",
    .read = pipe_read,
    .write = pipe_write,
    TL_FORMS(TL_KEYS_FORM),
};

/* --- putting it together --------------------------------------------------------------------- */

/* Head and pipe say nothing where the flow is given. */
static void warn_of_idle_keys(struct tl_reader *r)
{
    static const char *const key[] = {"pump.head", "pump.pipe"};
    for (size_t i = 0; i < sizeof key / sizeof *key; i++)
        if (tl_place(r, key[i]))
            tl_warn(r, tl_place(r, key[i]),
                    "changes nothing: the flow is given, as it arrives; only a curve has to be "
                    "weighed against head and pipe");
}

static void warn_of_duty(struct tl_reader *r, const struct tl_duty *duty)
{
    const struct tl_scenario *s = &r->draft->s;
    const struct tl_table *curve = &s->setup.pump.curve;
    const double top_m = tl_tower_lift_m(&s->setup.tower);
    if (!s->setup.tower.submerged && duty->lift_m * A_LITTLE < top_m)
        tl_warn(
            r, tl_place(r, "pump.head"),
            "a lift of %.3g m does not reach the top of the tower, %.3g m above the water: less "
            "flow than this arrives; leave head away, or look at building.lowest tray",
            duty->lift_m, top_m);
    const double water_w = tl_water_power_w(duty->flow_m3_d, duty->head_m);
    if (duty->beyond)
        tl_warn(
            r, tl_place(r, "pump.curve"),
            "the pump works at a head of %.3g m, below the lowest of its curve, %.3g m; the flow "
            "is that of the curve's end",
            duty->head_m, curve->x[0]);
    if (s->costs.pump_w < water_w)
        tl_warn(r, tl_place(r, "costs.pump"),
                "less than the %.3g W that go into the water: no pump does that; look at the curve "
                "and at the power again",
                water_w);
}

static void fill_duty(struct tl_reader *r)
{
    struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *curve = tl_place(r, "pump.curve");
    struct tl_duty duty;
    const int status = tl_pump_duty(s, s->pump.count, &duty);
    if (status) {
        if (status == TL_E_MEMORY)
            r->out_of_memory = true;
        else
            tl_fault(r, curve, "another curve or pipe", "its flow could not be found");
        return;
    }
    s->pump_flow_m3_d = duty.flow_m3_d;
    if (!(duty.flow_m3_d > 0))
        tl_fault(r, curve, "a stronger pump or a lower tower",
                 "the pump reaches %.4g m at most, and the water has to be lifted %.4g m",
                 s->pump.curve.x[s->pump.curve.n - 1], duty.lift_m);
    else
        warn_of_duty(r, &duty);
}

static int rising(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The longest time from one cleaning to the next, from the start and to the end, d; into *cleanings
 * their number. NAN when out of memory. */
static double longest_uncleaned(const struct tl_setup *s, size_t *cleanings)
{
    double *at_d = calloc(s->events + 1, sizeof *at_d);
    double since_d = s->start_d;
    double longest_d = at_d ? 0 : NAN;
    size_t n = 0;
    for (size_t i = 0; at_d && i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_CLEAN_PUMP)
            at_d[n++] = s->event[i].at_d;
    *cleanings = n;
    if (at_d) {
        qsort(at_d, n, sizeof *at_d, rising);
        at_d[n] = s->start_d + s->length_d;
    }
    for (size_t i = 0; at_d && i <= n; i++) {
        longest_d = fmax(longest_d, at_d[i] - since_d);
        since_d = at_d[i];
    }
    free(at_d);
    return longest_d;
}

/* Share of the clean flow after so many days. Against a pipe and a lift a curve keeps more or less of
 * it than the pump does at any one head. */
static double flow_left(struct tl_reader *r, double days)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double kept = tl_pump_kept(&s->pump, days);
    struct tl_duty fouled;
    if (s->pump.curve.n == 0 || !(s->pump_flow_m3_d > 0))
        return kept;
    const int status = tl_pump_duty(s, kept * s->pump.count, &fouled);
    if (status == TL_E_MEMORY)
        r->out_of_memory = true;
    return status ? kept : fouled.flow_m3_d / s->pump_flow_m3_d;
}

static void check_fouling(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *fouling = tl_place(r, "pump.fouling");
    size_t cleanings = 0;
    const double days = longest_uncleaned(s, &cleanings);
    if (isnan(days))
        r->out_of_memory = true;
    else if (cleanings > 0 && !(s->pump.fouling_1_d > 0))
        tl_warn(r, tl_place(r, "events"),
                "to clean the pump changes nothing: it does not foul without pump.fouling");
    else if (fouling && flow_left(r, days) < MOST_LEFT)
        tl_warn(r, fouling,
                "the pump loses %.3g %% of its flow in %.3g d without a cleaning; plan one with "
                "{at: day 40, clean: pump}",
                100 * (1 - flow_left(r, days)), days);
}

/* A flow that is set by an event, beyond what all pumps of the curve move when they are clean. */
static void check_named_flows(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    if (s->pump.curve.n == 0 || !(s->pump_flow_m3_d > 0))
        return;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_PUMP_FLOW && !r->event_entry[i]->faulty &&
            s->event[i].value > s->pump_flow_m3_d * A_LITTLE)
            tl_warn(r, r->event_entry[i],
                    "a flow of %.3g m3/h, more than the %.3g m3/h that the pumps move at most by "
                    "their curve: no pump does that",
                    s->event[i].value / HOURS_A_DAY, s->pump_flow_m3_d / HOURS_A_DAY);
}

/* Everything the curve is weighed against was read without a fault. */
static bool sound(const struct tl_reader *r)
{
    static const char *const around[] = {"pump", "tower", "building", "costs"};
    for (size_t i = 0; i < sizeof around / sizeof *around; i++) {
        const struct tl_node *n = tl_place(r, around[i]);
        if (n && n->faulty)
            return false;
    }
    return tl_place(r, "tower") != NULL;
}

void tl_fill_pump(struct tl_reader *r)
{
    const struct tl_node *flow = tl_place(r, "pump.flow");
    struct tl_node *pump = tl_place(r, "pump");
    struct tl_node *curve = tl_place(r, "pump.curve");
    if (!pump || pump->kind != TL_NODE_MAPPING)
        return;
    if (curve && flow)
        tl_fault(r, curve, "one of the two", "both a flow and a curve");
    else if (!curve && !flow)
        tl_fault_missing(r, pump, "flow", "a flow of water, as 1200 gal/h, or the pump's curve");
    else if (curve && sound(r))
        fill_duty(r);
    else if (flow)
        warn_of_idle_keys(r);
}

void tl_check_pump(struct tl_reader *r)
{
    const struct tl_node *pump = tl_place(r, "pump");
    const struct tl_node *events = tl_place(r, "events");
    if (pump && !pump->faulty && !(events && events->faulty)) {
        check_fouling(r);
        check_named_flows(r);
    }
}
