/* One run, judged: the observer that feeds verdict and ranges, and the run around it. */
#include "towerloop/assess.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loop.h"
#include "towerloop/status.h"

struct judging {
    const struct tl_model *m;
    struct tl_work *work;
    struct tl_snapshot glance; /* no trays */
    struct tl_judge *judge;
    struct tl_ranges *ranges;
    bool fish_ever; /* a loop without fish is judged as if there were some */
    double most_tan;
    double most_tan_d;
    struct tl_controls most_controls;
    double *most_y; /* state at that moment */
};

static int judge_sample(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct judging *j = arg;

    int status = tl_model_glance(j->m, j->work, c, t_d, y, &j->glance);
    if (status)
        return status;
    const bool occupied = j->glance.fish_kg > 0 || !j->fish_ever;
    tl_ranges_add(j->ranges, &j->glance);
    if (occupied && j->glance.tower_on && y[TL_TAN] > j->most_tan) {
        j->most_tan = y[TL_TAN];
        j->most_tan_d = t_d;
        j->most_controls = *c;
        memcpy(j->most_y, y, tl_model_layout(j->m)->core * sizeof *y);
    }
    return tl_judge_add(j->judge, t_d, j->glance.temperature_degC, j->glance.tank,
                        j->glance.tank_ph, occupied);
}

int tl_assess(const struct tl_model *m, const struct tl_limits *limits,
              const struct tl_assess_options *options, struct tl_assessment *out)
{
    const struct tl_setup *s = tl_model_setup(m);
    struct judging j = {.m = m, .ranges = &out->ranges, .most_tan = -1, .most_tan_d = NAN};
    struct tl_observer observer[1 + TL_ASSESS_OBSERVERS] = {
        {.period_d = TL_VERDICT_PERIOD_D, .see = judge_sample, .arg = &j}};
    struct tl_engine_options run = {.observer = observer, .observers = 1};
    struct tl_engine *engine = NULL;

    memset(out, 0, sizeof *out);
    out->fish_lost_d = NAN;
    out->limiting.at_d = NAN;
    if (options) {
        if (options->observers > TL_ASSESS_OBSERVERS)
            return TL_E_INPUT;
        for (size_t i = 0; i < options->observers; i++)
            observer[run.observers++] = options->observer[i];
        run.rtol = options->rtol;
        run.interrupted = options->interrupted;
        run.progress = options->progress;
        run.progress_arg = options->progress_arg;
    }
    tl_ranges_init(&out->ranges, s, isnan(limits->tan_caution) || isnan(limits->tan_danger));

    j.fish_ever = tl_setup_ever_fish(s);
    int status = TL_E_MEMORY;
    j.most_y = malloc(tl_model_layout(m)->core * sizeof *j.most_y);
    if (!j.most_y)
        goto done;
    status = tl_work_new(m, &j.work);
    if (!status)
        status = tl_judge_new(limits, s->length_d, &j.judge);
    if (!status)
        status = tl_engine_new(m, &run, &engine);
    if (status)
        goto done;

    status = tl_engine_advance(engine, tl_engine_end(engine));
    out->end_d = tl_engine_time(engine);
    out->stats = *tl_engine_stats(engine);
    out->fish_lost_d = tl_engine_fish_lost_d(engine);
    tl_judge_finish(j.judge, &out->verdict);
    if (status) {
        (void)snprintf(out->fault, sizeof out->fault, "%s", tl_engine_fault(engine));
        goto done;
    }
    if (!isnan(j.most_tan_d))
        tl_model_limiting(m, j.work, &j.most_controls, j.most_tan_d, j.most_y, &out->limiting);
    tl_ledger_draw_up(m, tl_engine_start_state(engine), tl_engine_state(engine),
                      out->end_d - s->start_d, &out->ledger);
    status = tl_ledger_check(&out->ledger, out->fault, sizeof out->fault);
done:
    tl_engine_free(engine);
    tl_judge_free(j.judge);
    tl_work_free(j.work);
    free(j.most_y);
    return status;
}
