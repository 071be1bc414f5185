/* Blocks of loops side by side, each watched minute by minute from the failure on. */
#include "endure_uncertain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "endure_case.h"
#include "pool.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"

#define MINUTE_D (1.0 / 1440)

struct watch { /* one run */
    double last_d, last_o2;
    double minutes[TL_NENDURE_MOMENT];
    bool impossible, lost_before, unknown;
};

struct block {
    const struct tl_endure_study *study;
    double at_d, back_d;
    size_t count, ponds;
    struct tl_limits limits[TL_BLOCK_RUNS];
    struct tl_model *model[TL_BLOCK_RUNS];
    struct tl_pond pond[TL_BLOCK_RUNS];
    size_t of_pond[TL_BLOCK_RUNS];
    struct watch *watch; /* of the block's runs */
};

struct work {
    const struct tl_endure_study *study;
    const struct tl_spread *spread;
    const struct tl_endure_options *o;
    struct watch *watch; /* [runs] */
    unsigned threads;    /* of each block */
};

/* --- watching ----------------------------------------------------------------------------------- */

/* When oxygen fell through `limit` on its way from the last look. */
static void cross(const struct block *b, const struct watch *w, double t_d, double o2, double limit,
                  double *minutes)
{
    if (!isinf(*minutes) || !(o2 < limit))
        return;
    const double share = w->last_o2 > limit ? (w->last_o2 - limit) / (w->last_o2 - o2) : 0;
    const double passed_d = w->last_d + share * (t_d - w->last_d) - b->at_d;
    *minutes = fmax(0, passed_d) / MINUTE_D;
}

static int see(void *arg, size_t pond, size_t instant, const struct tl_snapshot *g)
{
    const struct block *b = arg;
    struct watch *w = &b->watch[b->of_pond[pond]];
    const double o2 = g->tank[TL_O2];
    if (instant == 0) {
        for (int m = 0; m < TL_NENDURE_MOMENT; m++)
            w->minutes[m] = INFINITY;
        w->last_d = g->t_d;
        w->last_o2 = o2;
    }
    if (g->t_d >= b->at_d - TL_SAME_INSTANT_D && g->t_d <= b->back_d + TL_SAME_INSTANT_D) {
        const struct tl_limit_pair *l = &b->pond[pond].limits->o2;
        cross(b, w, g->t_d, o2, l->caution, &w->minutes[TL_ENDURE_CAUTION]);
        cross(b, w, g->t_d, o2, l->danger, &w->minutes[TL_ENDURE_DANGER]);
    }
    w->last_d = g->t_d;
    w->last_o2 = o2;
    return TL_OK;
}

static void all_at_once(struct watch *w)
{
    for (int m = 0; m < TL_NENDURE_MOMENT; m++)
        w->minutes[m] = 0;
}

static void finish(const struct block *b, const struct tl_pond *p, struct watch *w)
{
    const double lost_d = p->fish_lost_d;
    w->unknown = p->status != TL_OK;
    w->lost_before = !w->unknown && lost_d < b->at_d;
    if (w->unknown || w->lost_before)
        all_at_once(w);
    else if (lost_d <= b->back_d)
        w->minutes[TL_ENDURE_LOST] = (lost_d - b->at_d) / MINUTE_D;
}

/* --- a block ------------------------------------------------------------------------------------ */

static int build(struct block *b, const struct tl_spread *s, size_t run, size_t k)
{
    const struct tl_endure_question *q = &b->study->question;
    const struct tl_endure_case failure = {.fails = q->fails, .outage_d = q->outage_d, .fish = 1};
    struct tl_scenario scenario;
    struct tl_diag diag;
    double u[TL_SPREAD_MOST];

    tl_spread_point(s, run, u);
    tl_diag_init(&diag);
    int status =
        tl_spread_scenario(s->file, s->set, s->sets, s->input, s->inputs, u, &scenario, &diag);
    if (status == TL_OK) {
        status = tl_endure_fail(&scenario.setup, b->at_d, &failure);
        if (status == TL_OK)
            status = tl_model_build(&scenario.setup, &b->model[k]);
        b->limits[k] = scenario.limits;
        tl_scenario_free(&scenario);
    }
    tl_diag_free(&diag);
    if (status == TL_OK) {
        b->pond[b->ponds] = (struct tl_pond){.model = b->model[k], .limits = &b->limits[k]};
        b->of_pond[b->ponds++] = k;
    } else {
        all_at_once(&b->watch[k]);
        b->watch[k].unknown = b->watch[k].impossible = true;
    }
    if (status == TL_E_IO)
        return TL_E_REFUSED; /* gone meanwhile */
    return status == TL_E_INPUT || status == TL_E_SOLVER ? TL_OK : status;
}

static int do_block(void *arg, size_t i)
{
    const struct work *w = arg;
    const struct tl_endure_study *s = w->study;
    struct block *b = calloc(1, sizeof *b);
    if (!b)
        return TL_E_MEMORY;
    b->study = s;
    b->at_d = s->when.at_d;
    b->back_d = b->at_d + s->question.outage_d;
    b->count = tl_spread_block_runs(w->spread, i);
    b->watch = w->watch + i * TL_BLOCK_RUNS;
    int status = TL_OK;
    for (size_t k = 0; k < b->count && !status; k++)
        status = w->o->interrupted && *w->o->interrupted
                     ? TL_E_INTERRUPTED
                     : build(b, w->spread, i * TL_BLOCK_RUNS + k, k);
    if (!status)
        status = tl_spread_check_unchanged(w->spread);
    const struct tl_ponds_options options = {.threads = w->threads,
                                             .level = w->spread->level,
                                             .period_d = MINUTE_D,
                                             .see = see,
                                             .arg = b,
                                             .interrupted = w->o->interrupted};
    if (!status && b->ponds > 0)
        status = tl_ponds_run(b->pond, b->ponds, &options);
    for (size_t k = 0; k < b->ponds && !status; k++)
        finish(b, &b->pond[k], &b->watch[b->of_pond[k]]);
    for (size_t k = 0; k < b->count; k++)
        tl_model_free(b->model[k]);
    free(b);
    return status;
}

/* --- all of them -------------------------------------------------------------------------------- */

static int rising(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void sort_out(const struct watch *watch, struct tl_endure_uncertain *out)
{
    for (size_t i = 0; i < out->runs; i++) {
        out->unknown += watch[i].unknown;
        out->impossible += watch[i].impossible;
        out->lost_before += watch[i].lost_before;
    }
    for (int m = 0; m < TL_NENDURE_MOMENT; m++) {
        size_t come = 0;
        for (size_t i = 0; i < out->runs; i++) {
            out->minutes[m][i] = watch[i].minutes[m];
            come += isfinite(watch[i].minutes[m]) ? 1 : 0;
        }
        qsort(out->minutes[m], out->runs, sizeof *out->minutes[m], rising);
        out->of[m] = tl_chance_of(come, out->runs);
    }
}

static void say_done(void *arg, size_t done, size_t jobs)
{
    const struct work *w = arg;
    (void)jobs;
    const size_t runs = done * TL_BLOCK_RUNS, of = w->spread->runs;
    w->o->progress(w->o->progress_arg, runs < of ? runs : of, of);
}

int tl_endure_uncertain_run(const struct tl_endure_study *s, const struct tl_spread *spread,
                            const struct tl_endure_options *o, struct tl_endure_uncertain *out)
{
    const size_t blocks = tl_spread_blocks(spread);
    const unsigned threads = o->threads ? o->threads : tl_pool_processors();
    struct work w = {.study = s, .spread = spread, .o = o, .threads = 1};
    *out = (struct tl_endure_uncertain){.spread = spread, .runs = spread->runs};
    w.watch = calloc(spread->runs, sizeof *w.watch);
    int status = w.watch ? TL_OK : TL_E_MEMORY;
    for (int m = 0; m < TL_NENDURE_MOMENT; m++)
        if (!(out->minutes[m] = calloc(spread->runs, sizeof *out->minutes[m])))
            status = TL_E_MEMORY;
    if (blocks < threads)
        w.threads = (threads + (unsigned)blocks - 1) / (unsigned)blocks;
    const struct tl_pool pool = {.job = do_block,
                                 .arg = &w,
                                 .jobs = blocks,
                                 .threads = threads,
                                 .interrupted = o->interrupted,
                                 .progress = o->progress ? say_done : NULL,
                                 .progress_arg = &w};
    if (!status)
        status = tl_pool_run(&pool);
    if (!status)
        sort_out(w.watch, out);
    free(w.watch);
    return status;
}

void tl_endure_uncertain_free(struct tl_endure_uncertain *u)
{
    for (int m = 0; m < TL_NENDURE_MOMENT; m++)
        free(u->minutes[m]);
    *u = (struct tl_endure_uncertain){.runs = 0};
}

double tl_endure_no_sooner(const struct tl_endure_uncertain *u, enum tl_endure_moment m,
                           double share)
{
    const size_t rank = tl_chance_rank(u->runs, share);
    return rank > 0 ? u->minutes[m][rank - 1] : NAN;
}
