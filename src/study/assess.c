/* One run, judged: the observer that feeds verdict and ranges, and the run around it. */
#include "towerloop/assess.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loop.h"
#include "towerloop/film_proof.h"
#include "towerloop/status.h"

struct tl_trial {
    const struct tl_model *m;
    struct tl_engine *engine;
    struct tl_work *work;
    struct tl_snapshot glance; /* no trays */
    struct tl_judge *judge;
    struct tl_ranges ranges;
    struct tl_extremes extremes;
    struct tl_given_watch given;
    struct tl_daily daily;
    struct tl_algae_watch algae;
    struct tl_solids_watch solids;
    struct tl_bed_watch bed;
    struct tl_upkeep *upkeep; /* NULL: nobody asks */
    bool fish_ever;           /* a loop without fish is judged as if there were some */
    struct tl_shock_watch shocks;
    struct tl_still_watch stills;
    struct tl_film_proof film;
    double most_tan;
    double most_tan_d;
    struct tl_controls most_controls;
    double *most_y; /* state at that moment */
};

static int judge_sample(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct tl_trial *j = arg;

    int status = tl_model_glance(j->m, j->work, c, t_d, y, &j->glance);
    if (status)
        return status;
    const bool occupied = j->glance.fish_kg > 0 || !j->fish_ever;
    tl_ranges_add(&j->ranges, &j->glance);
    if (occupied)
        tl_extremes_add(&j->extremes, t_d, j->glance.tank, j->glance.tank_ph);
    /* the totals it reads change at stops only, so those of the step's end will do */
    tl_given_see(&j->given, j->m, t_d, tl_engine_state(j->engine));
    tl_daily_add(&j->daily, &j->glance, occupied);
    tl_algae_watch_add(&j->algae, j->m, &j->glance, y);
    status = tl_bed_watch_add(&j->bed, j->m, j->work, c, t_d, y);
    if (status)
        return status;
    tl_still_watch_add(&j->stills, c, t_d);
    tl_shock_watch_add(&j->shocks, j->m, &j->glance, y, tl_engine_time(j->engine),
                       tl_engine_state(j->engine));
    tl_solids_watch_add(&j->solids, j->m, t_d, y, tl_engine_state(j->engine));
    if (tl_film_proof_due(&j->film, t_d)) {
        struct tl_ammonia_sums sums;
        tl_ledger_ammonia(j->m, tl_engine_state(j->engine), &sums);
        tl_film_proof_add(&j->film, &sums);
    }
    if (occupied && y[TL_TAN] > j->most_tan) {
        j->most_tan = y[TL_TAN];
        j->most_tan_d = t_d;
        j->most_controls = *c;
        memcpy(j->most_y, y, tl_model_layout(j->m)->core * sizeof *y);
    }
    if (j->upkeep &&
        (status = tl_upkeep_see(j->upkeep, j->m, &j->glance, y, tl_engine_state(j->engine))))
        return status;
    return tl_judge_add(j->judge, t_d, j->glance.temperature_degC, j->glance.tank,
                        j->glance.tank_ph, occupied);
}

static int start_judging(struct tl_trial *t, const struct tl_limits *limits,
                         const struct tl_assess_options *options)
{
    const struct tl_setup *s = tl_model_setup(t->m);
    struct tl_observer observer[1 + TL_ASSESS_OBSERVERS] = {
        {.period_d = TL_VERDICT_PERIOD_D, .see = judge_sample, .arg = t}};
    struct tl_engine_options run = {.observer = observer, .observers = 1};

    if (options) {
        if (options->observers > TL_ASSESS_OBSERVERS)
            return TL_E_INPUT;
        for (size_t i = 0; i < options->observers; i++)
            observer[run.observers++] = options->observer[i];
        run.rtol = options->rtol;
        run.start_state = options->start_state;
        run.interrupted = options->interrupted;
        run.progress = options->progress;
        run.progress_arg = options->progress_arg;
    }
    t->most_y = malloc(tl_model_layout(t->m)->core * sizeof *t->most_y);
    if (!t->most_y)
        return TL_E_MEMORY;
    int status = tl_work_new(t->m, &t->work);
    if (!status)
        status = tl_judge_new(limits, s->length_d, &t->judge);
    if (!status)
        status = tl_engine_new(t->m, &run, &t->engine);
    return status;
}

int tl_trial_new(const struct tl_model *m, const struct tl_limits *limits,
                 const struct tl_assess_options *options, struct tl_trial **out)
{
    const struct tl_setup *s = tl_model_setup(m);
    struct tl_trial *t = calloc(1, sizeof *t);
    if (!t)
        return TL_E_MEMORY;
    t->m = m;
    t->fish_ever = tl_setup_ever_fish(s);
    t->most_tan = -1;
    t->most_tan_d = NAN;
    tl_daily_init(&t->daily);
    tl_ranges_init(&t->ranges, s, isnan(limits->tan_caution) || isnan(limits->tan_danger));
    tl_extremes_init(&t->extremes);
    tl_algae_watch_begin(&t->algae, m);
    tl_bed_watch_begin(&t->bed, m);
    tl_still_watch_begin(&t->stills);
    tl_shock_watch_begin(&t->shocks, s);
    tl_solids_watch_begin(&t->solids, m);
    tl_film_proof_begin(&t->film, s);
    int status = tl_given_watch(s, &t->given);
    t->upkeep = options ? options->upkeep : NULL;
    if (!status && t->upkeep)
        status = tl_upkeep_begin(t->upkeep, m);
    if (!status)
        status = start_judging(t, limits, options);
    if (status)
        tl_trial_free(t);
    else
        *out = t;
    return status;
}

int tl_trial_advance(struct tl_trial *t, double t_d)
{
    return tl_engine_advance(t->engine, t_d);
}

const struct tl_engine *tl_trial_engine(const struct tl_trial *t)
{
    return t->engine;
}

int tl_trial_finish(struct tl_trial *t, int status, struct tl_assessment *out)
{
    memset(out, 0, sizeof *out);
    out->limiting.at_d = NAN;
    out->ranges = t->ranges;
    out->extremes = t->extremes;
    out->given = t->given;
    out->bed = t->bed.result;
    out->end_d = tl_engine_time(t->engine);
    out->last_flow_m3_d = tl_engine_controls(t->engine)->flow_m3_d;
    out->least_flow_m3_d = tl_model_least_flow_m3_d(t->m);
    out->stats = *tl_engine_stats(t->engine);
    out->fish_lost_d = tl_engine_fish_lost_d(t->engine);
    tl_judge_finish(t->judge, &out->verdict);
    struct tl_ammonia_sums sums;
    tl_ledger_ammonia(t->m, tl_engine_state(t->engine), &sums);
    tl_film_proof_end(&t->film, out->end_d, &sums, &out->verdict);
    tl_daily_finish(&t->daily);
    out->daily = t->daily;
    out->stills = t->stills.result;
    out->shocks = t->shocks.result;
    out->outdoors = tl_model_heat(t->m) != NULL;
    if (out->outdoors) {
        out->heat = tl_model_heat(t->m)->summary;
        tl_verdict_take_jump(&out->verdict, out->heat.tank_jump_degC, out->heat.tank_jump_d,
                             out->end_d);
    }
    if (status) {
        (void)snprintf(out->fault, sizeof out->fault, "%s", tl_engine_fault(t->engine));
        return status;
    }
    if (!isnan(t->most_tan_d))
        tl_model_limiting(t->m, t->work, &t->most_controls, t->most_tan_d, t->most_y,
                          &out->limiting);
    tl_model_doses(t->m, tl_engine_state(t->engine), &out->doses);
    tl_ledger_draw_up(t->m, tl_engine_start_state(t->engine), tl_engine_state(t->engine),
                      out->end_d - tl_model_setup(t->m)->start_d, &out->ledger);
    tl_algae_watch_end(&t->algae, t->m, &out->ledger, tl_engine_start_state(t->engine),
                       tl_engine_state(t->engine), &out->algae);
    tl_solids_watch_end(&t->solids, t->m, tl_engine_state(t->engine), &out->solids);
    return tl_ledger_check(&out->ledger, out->fault, sizeof out->fault);
}

void tl_trial_free(struct tl_trial *t)
{
    if (!t)
        return;
    tl_engine_free(t->engine);
    tl_judge_free(t->judge);
    tl_work_free(t->work);
    free(t->most_y);
    free(t);
}

int tl_assess(const struct tl_model *m, const struct tl_limits *limits,
              const struct tl_assess_options *options, struct tl_assessment *out)
{
    struct tl_trial *t = NULL;

    memset(out, 0, sizeof *out);
    out->fish_lost_d = NAN;
    out->limiting.at_d = NAN;
    int status = tl_trial_new(m, limits, options, &t);
    if (status)
        return status;
    status = tl_trial_advance(t, tl_engine_end(t->engine));
    status = tl_trial_finish(t, status, out);
    tl_trial_free(t);
    return status;
}

struct tl_outcome tl_assessment_outcome(const struct tl_assessment *a, const struct tl_scenario *s)
{
    return (struct tl_outcome){.scenario = s,
                               .verdict = &a->verdict,
                               .ranges = &a->ranges,
                               .extremes = &a->extremes,
                               .given = &a->given,
                               .ledger = &a->ledger,
                               .daily = &a->daily,
                               .doses = &a->doses,
                               .stats = &a->stats,
                               .heat = a->outdoors ? &a->heat : NULL,
                               .shocks = &a->shocks,
                               .stills = &a->stills,
                               .algae = &a->algae,
                               .solids = &a->solids,
                               .bed = &a->bed,
                               .fish_lost_d = a->fish_lost_d,
                               .end_d = a->end_d,
                               .last_flow_m3_d = a->last_flow_m3_d,
                               .least_flow_m3_d = a->least_flow_m3_d};
}
