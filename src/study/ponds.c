/* Many loops side by side: sorted into batches, each with its judges, the batches drawn by threads. */
#include "towerloop/ponds.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "batch.h"
#include "lane_judge.h"
#include "loop.h"
#include "pool.h"
#include "towerloop/assess.h"
#include "towerloop/chem.h"
#include "towerloop/film_proof.h"
#include "towerloop/heat_course.h"
#include "towerloop/status.h"

static const char alone_level[] = "scalar";

struct members { /* ponds that lie side by side */
    size_t pond[TL_BATCH_MOST];
    size_t count;
};

struct many {
    struct tl_pond *pond;
    const struct tl_ponds_options *options;
    const char *level;
    struct members *batch;
    size_t batches;
};

/* What the observers of one batch know. */
struct side_by_side {
    const struct many *all;
    const struct members *members;
    const struct tl_lane_judge_level *level;
    struct tl_lane_judge *judge[TL_BATCH_MOST]; /* one a group */
    double *whole;                              /* room for a state with its totals */
    struct lane {
        struct tl_work *work;
        struct tl_snapshot glance; /* for the ranges */
        bool fish_ever;
        struct tl_film_proof film;
        unsigned long stops; /* of the batch when the ranges were last looked at */
        size_t instant;      /* the next that is shown */
    } lane[TL_BATCH_MOST];
};

/* --- one by itself ------------------------------------------------------------------------------ */

struct alone {
    const struct many *all;
    size_t pond, instant;
    struct tl_work *work;
    struct tl_snapshot glance;
};

static int see_alone(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct alone *a = arg;
    const struct tl_ponds_options *o = a->all->options;

    const int status = tl_model_glance(a->all->pond[a->pond].model, a->work, c, t_d, y, &a->glance);
    return status ? status : o->see(o->arg, a->pond, a->instant++, &a->glance);
}

/* A status that ends the pond and not the whole. */
static bool its_own(int status)
{
    return status == TL_E_SOLVER || status == TL_E_LEDGER;
}

static int run_alone(const struct many *all, size_t index)
{
    const struct tl_ponds_options *o = all->options;
    struct tl_pond *p = &all->pond[index];
    struct alone alone = {.all = all, .pond = index};
    const struct tl_observer observer = {.period_d = o->period_d, .see = see_alone, .arg = &alone};
    const struct tl_assess_options options = {.rtol = o->rtol,
                                              .observer = &observer,
                                              .observers = o->see ? 1 : 0,
                                              .interrupted = o->interrupted};
    struct tl_assessment *a = malloc(sizeof *a);
    int status = a ? tl_work_new(p->model, &alone.work) : TL_E_MEMORY;
    if (!status) {
        status = tl_assess(p->model, p->limits, &options, a);
        p->status = status;
        p->level = alone_level;
        p->verdict = a->verdict;
        p->ranges = a->ranges;
        p->fish_lost_d = a->fish_lost_d;
    }
    tl_work_free(alone.work);
    free(a);
    return its_own(status) ? TL_OK : status;
}

/* --- side by side ------------------------------------------------------------------------------- */

static void put(const struct side_by_side *s, double *lanes, size_t lane, const double *value,
                size_t n)
{
    const size_t wide = (size_t)s->level->wide;
    for (size_t i = 0; i < n; i++)
        lanes[i * wide + lane] = value[i];
}

/* The temperature of a tank for its judge; whether it has changed. */
static bool follow_temperature(struct side_by_side *s, const struct tl_batch *b, size_t loop,
                               double t_d)
{
    const size_t wide = (size_t)s->level->wide;
    double *lane = &s->judge[loop / wide]->temperature[loop % wide];
    const double t_degC = tl_model_temperature(tl_batch_model(b, loop), t_d);
    const bool changed = t_degC != *lane;
    *lane = t_degC;
    return changed;
}

/* The published ranges of a loop: looked at when something in them may have changed. Of the glance only
 * what they ask for is filled in. */
static void look(struct side_by_side *s, const struct tl_batch *b, size_t loop, double t_d,
                 double chloride_g_m3, double oxygen_g_m3)
{
    const struct tl_lane_judge *j = s->judge[loop / (size_t)s->level->wide];
    const size_t place = loop % (size_t)s->level->wide;
    const struct tl_controls *c = tl_batch_controls(b, loop);
    struct tl_snapshot *g = &s->lane[loop].glance;

    g->t_d = t_d;
    g->temperature_degC = j->temperature[place];
    g->tank_ph = j->ph[place];
    g->tank[TL_CL] = chloride_g_m3;
    g->tank[TL_O2] = oxygen_g_m3;
    g->fish_kg = tl_batch_fish_kg(b, loop);
    g->tower_flow_m3_d = c->flow_m3_d * c->to_tower;
    tl_ranges_add(&s->all->pond[s->members->pond[loop]].ranges, g);
}

static struct tl_ammonia_sums sums_of(const struct side_by_side *s, const struct tl_batch *b,
                                      size_t loop)
{
    struct tl_ammonia_sums sums;
    tl_batch_totals(b, loop, s->whole);
    tl_ledger_ammonia(tl_batch_model(b, loop), s->whole, &sums);
    return sums;
}

static bool occupied(const struct side_by_side *s, const struct tl_batch *b, size_t loop)
{
    return tl_batch_fish_kg(b, loop) > 0 || !s->lane[loop].fish_ever;
}

static int judge_group(void *arg, const struct tl_batch *b, double t_d, size_t first, size_t wide,
                       const double *y)
{
    struct side_by_side *s = arg;
    struct tl_lane_judge *j = s->judge[first / wide];
    const unsigned long stops = tl_batch_stats(b)->stops;
    unsigned changed = 0;
    unsigned strange = 0;

    for (size_t l = 0; l < wide; l++) {
        if (follow_temperature(s, b, first + l, t_d) || s->lane[first + l].stops != stops)
            changed |= 1u << l;
        s->lane[first + l].stops = stops;
        if (occupied(s, b, first + l) != occupied(s, b, first))
            return TL_E_SOLVER; /* they part here: fish in one tank, none in another */
    }
    const int status = s->level->add(j, t_d, y, occupied(s, b, first), &strange);
    for (size_t l = 0; l < wide && first + l < tl_batch_loops(b) && !status; l++)
        if ((changed | strange) & (1u << l))
            look(s, b, first + l, t_d, y[TL_CL * wide + l], y[TL_O2 * wide + l]);
    for (size_t l = 0; l < wide && first + l < tl_batch_loops(b) && !status; l++)
        if (tl_film_proof_due(&s->lane[first + l].film, t_d)) {
            const struct tl_ammonia_sums sums = sums_of(s, b, first + l);
            tl_film_proof_add(&s->lane[first + l].film, &sums);
        }
    return status;
}

static int show_group(void *arg, const struct tl_batch *b, double t_d, size_t first, size_t wide,
                      const double *y)
{
    struct side_by_side *s = arg;
    const struct tl_ponds_options *o = s->all->options;
    struct tl_snapshot glance;
    double tank[TL_NWATER];
    int status = TL_OK;

    for (size_t l = 0; l < wide && first + l < tl_batch_loops(b) && !status; l++) {
        const size_t loop = first + l;
        for (size_t k = 0; k < TL_NWATER; k++)
            tank[k] = y[k * wide + l];
        memset(&glance, 0, sizeof glance);
        status = tl_model_glance_at(tl_batch_model(b, loop), s->lane[loop].work,
                                    tl_batch_controls(b, loop), t_d, tank,
                                    tl_batch_fish_kg(b, loop), &glance);
        if (!status)
            status = o->see(o->arg, s->members->pond[loop], s->lane[loop].instant++, &glance);
    }
    return status;
}

/* Judges and workspaces of a batch. */
static int prepare(struct side_by_side *s)
{
    const size_t wide = (size_t)s->level->wide;
    const size_t count = s->members->count;
    const size_t lanes = (count + wide - 1) / wide * wide;
    const struct tl_model *first = s->all->pond[s->members->pond[0]].model;

    s->whole = calloc(tl_model_layout(first)->size, sizeof *s->whole);
    if (!s->whole)
        return TL_E_MEMORY;
    for (size_t i = 0; i < lanes; i++) {
        struct tl_pond *p = &s->all->pond[s->members->pond[i < count ? i : count - 1]];
        const struct tl_setup *setup = tl_model_setup(p->model);
        if (i % wide == 0)
            s->judge[i / wide] = s->level->create(setup->length_d);
        if (!s->judge[i / wide] || tl_work_new(p->model, &s->lane[i].work))
            return TL_E_MEMORY;
        put(s, s->judge[i / wide]->limits, i % wide, (const double *)p->limits,
            sizeof *p->limits / sizeof(double));
        s->lane[i].fish_ever = tl_setup_ever_fish(setup);
        tl_film_proof_begin(&s->lane[i].film, setup);
        s->lane[i].glance.pressure_atm = tl_pressure_atm(setup->elevation_m);
        put(s, s->judge[i / wide]->pressure, i % wide, &s->lane[i].glance.pressure_atm, 1);
        s->lane[i].stops = (unsigned long)-1;
        tl_ranges_init(&p->ranges, setup,
                       isnan(p->limits->tan_caution) || isnan(p->limits->tan_danger));
    }
    return TL_OK;
}

static void read_verdicts(struct side_by_side *s, const struct tl_batch *b)
{
    const size_t wide = (size_t)s->level->wide;

    for (size_t i = 0; i < s->members->count; i++) {
        struct tl_pond *p = &s->all->pond[s->members->pond[i]];
        if (i % wide == 0)
            s->level->close(s->judge[i / wide]);
        s->level->read(s->judge[i / wide], i % wide, &p->verdict);
        const struct tl_heat_course *heat = tl_model_heat(p->model);
        const struct tl_setup *u = tl_model_setup(p->model);
        if (s->lane[i].film.asked) {
            const struct tl_ammonia_sums sums = sums_of(s, b, i);
            tl_film_proof_end(&s->lane[i].film, tl_batch_time_d(b), &sums, &p->verdict);
        }
        if (heat)
            tl_verdict_take_jump(&p->verdict, heat->summary.tank_jump_degC,
                                 heat->summary.tank_jump_d, u->start_d + u->length_d);
        p->status = TL_OK;
        p->level = tl_batch_level(b);
        p->fish_lost_d = tl_batch_fish_lost_d(b, i);
    }
}

static int run_in_lanes(const struct many *all, const struct members *members)
{
    const struct tl_ponds_options *o = all->options;
    const struct tl_model *model[TL_BATCH_MOST];
    struct side_by_side s = {
        .all = all, .members = members, .level = tl_lane_judge_level(all->level)};
    const struct tl_batch_observer observer[] = {
        {TL_VERDICT_PERIOD_D, TL_NWATER, judge_group, &s},
        {o->period_d, TL_NWATER, show_group, &s},
    };
    struct tl_batch_options options = {.rtol = o->rtol,
                                       .level = all->level,
                                       .observer = observer,
                                       .observers = o->see ? 2 : 1,
                                       .interrupted = o->interrupted};
    struct tl_batch *b = NULL;

    for (size_t i = 0; i < members->count; i++)
        model[i] = all->pond[members->pond[i]].model;
    int status = prepare(&s);
    for (size_t i = 0; i < members->count; i++)
        options.totals = options.totals || s.lane[i].film.asked;
    if (!status)
        status = tl_batch_new(model, members->count, &options, &b);
    if (!status)
        status = tl_batch_run(b);
    if (!status)
        read_verdicts(&s, b);
    tl_batch_free(b);
    free(s.whole);
    for (size_t i = 0; i < TL_BATCH_MOST; i++) {
        s.level->release(s.judge[i]);
        tl_work_free(s.lane[i].work);
    }
    return status;
}

/* One that fails, or goes another way than its neighbours, does not spoil them: each is then run by
 * itself. */
static int run_batch(void *arg, size_t i)
{
    const struct many *all = arg;
    const struct members *members = &all->batch[i];
    int status = TL_E_INPUT;

    if (members->count > 1)
        status = run_in_lanes(all, members);
    if (status != TL_E_INPUT && status != TL_E_SOLVER)
        return status;
    status = TL_OK;
    for (size_t k = 0; k < members->count && !status; k++)
        status = run_alone(all, members->pond[k]);
    return status;
}

/* --- all ---------------------------------------------------------------------------------------- */

/* Each pond joins the first batch that has room and that it fits in. */
static void sort_out(struct many *all, size_t ponds, size_t most)
{
    size_t full = 0; /* all batches before it are full */

    for (size_t i = 0; i < ponds; i++) {
        size_t k = full;
        while (k < all->batches &&
               (all->batch[k].count == most ||
                !tl_batch_fits(all->pond[all->batch[k].pond[0]].model, all->pond[i].model)))
            k++;
        if (k == all->batches)
            all->batch[all->batches++].count = 0;
        all->batch[k].pond[all->batch[k].count++] = i;
        while (full < all->batches && all->batch[full].count == most)
            full++;
    }
}

const char *tl_ponds_level(const char *name)
{
    for (size_t i = 0; i < tl_batch_levels(); i++)
        if (strcmp(tl_batch_level_name(i), name) == 0)
            return tl_batch_level_name(i);
    return strcmp(name, alone_level) == 0 ? alone_level : NULL;
}

const char *tl_ponds_widest(void)
{
    return tl_batch_level_name(tl_batch_levels() - 1);
}

int tl_ponds_run(struct tl_pond *pond, size_t ponds, const struct tl_ponds_options *options)
{
    static const struct tl_ponds_options plain = {0};
    struct many all = {.pond = pond, .options = options ? options : &plain};

    all.level = tl_ponds_widest();
    if (all.options->level)
        all.level = tl_ponds_level(all.options->level);
    if (!all.level || (all.options->see && !(all.options->period_d > 0)))
        return TL_E_INPUT;
    all.batch = calloc(ponds + 1, sizeof *all.batch);
    if (!all.batch)
        return TL_E_MEMORY;
    sort_out(&all, ponds, all.level == alone_level ? 1 : TL_BATCH_MOST);
    const struct tl_pool pool = {.job = run_batch,
                                 .arg = &all,
                                 .jobs = all.batches,
                                 .threads = all.options->threads,
                                 .interrupted = all.options->interrupted};
    const int status = all.batches > 0 ? tl_pool_run(&pool) : TL_OK;
    free(all.batch);
    return status;
}
