/* The facade's ensembles: the ponds of many handles, run by the study below. */
#include "towerloop/ensemble.h"

#include <math.h>
#include <stdlib.h>

#include "batch.h"
#include "handle.h"
#include "towerloop/chem.h"
#include "towerloop/heat_course.h"
#include "towerloop/ponds.h"
#include "towerloop/summary.h"

struct tl_ensemble {
    struct tl_pond *pond;
    size_t ponds;
    struct tl_ponds_options options;
    int (*see)(void *arg, size_t pond, size_t instant, const struct tl_ensemble_tank *tank);
    void *see_arg;
    bool run;
};

int tl_ensemble_new(struct tl_loop *const *loop, size_t ponds, struct tl_ensemble **out)
{
    *out = NULL;
    if (ponds == 0)
        return TL_E_INPUT;
    for (size_t i = 0; i < ponds; i++)
        if (!loop[i]->model)
            return TL_E_INPUT;
    struct tl_ensemble *e = calloc(1, sizeof *e);
    if (!e)
        return TL_E_MEMORY;
    e->pond = calloc(ponds, sizeof *e->pond);
    if (!e->pond) {
        free(e);
        return TL_E_MEMORY;
    }
    e->ponds = ponds;
    for (size_t i = 0; i < ponds; i++) {
        e->pond[i].model = loop[i]->model;
        e->pond[i].limits = &loop[i]->scenario.limits;
    }
    *out = e;
    return TL_OK;
}

void tl_ensemble_free(struct tl_ensemble *e)
{
    if (!e)
        return;
    free(e->pond);
    free(e);
}

int tl_ensemble_set_rtol(struct tl_ensemble *e, double rtol)
{
    if (!(rtol >= TL_RTOL_LEAST && rtol <= TL_RTOL_MOST))
        return TL_E_INPUT;
    e->options.rtol = rtol;
    return TL_OK;
}

void tl_ensemble_set_threads(struct tl_ensemble *e, unsigned threads)
{
    e->options.threads = threads;
}

size_t tl_ensemble_levels(void)
{
    return tl_batch_levels();
}

const char *tl_ensemble_level_name(size_t index)
{
    return tl_batch_level_name(index);
}

int tl_ensemble_set_level(struct tl_ensemble *e, const char *level)
{
    const char *name = tl_ponds_level(level);
    if (!name)
        return TL_E_INPUT;
    e->options.level = name;
    return TL_OK;
}

static int see(void *arg, size_t pond, size_t instant, const struct tl_snapshot *glance)
{
    const struct tl_ensemble *e = arg;
    const double *water = glance->tank;
    const struct tl_ensemble_tank tank = {
        .t_d = glance->t_d,
        .temperature_degC = glance->temperature_degC,
        .ph = glance->tank_ph,
        .ammonia_gN_m3 = water[TL_TAN],
        .nh3_gN_m3 = water[TL_TAN] * tl_nh3_fraction(glance->temperature_degC, glance->tank_ph),
        .nitrite_gN_m3 = water[TL_NO2],
        .nitrate_gN_m3 = water[TL_NO3],
        .oxygen_g_m3 = water[TL_O2],
        .alkalinity_eq_m3 = water[TL_ALK],
        .chloride_g_m3 = water[TL_CL],
        .chlorine_g_m3 = water[TL_HOCL],
        .fish_kg = glance->fish_kg,
    };
    return e->see(e->see_arg, pond, instant, &tank);
}

int tl_ensemble_watch(struct tl_ensemble *e, double period_d,
                      int (*watch)(void *arg, size_t pond, size_t instant,
                                   const struct tl_ensemble_tank *tank),
                      void *arg)
{
    if (watch && !(period_d > 0 && isfinite(period_d)))
        return TL_E_INPUT;
    e->see = watch;
    e->see_arg = arg;
    e->options.see = watch ? see : NULL;
    e->options.arg = e;
    e->options.period_d = period_d;
    return TL_OK;
}

size_t tl_ensemble_instants(const struct tl_ensemble *e, size_t pond)
{
    return e->see && pond < e->ponds
               ? tl_observer_instants(tl_model_setup(e->pond[pond].model), e->options.period_d)
               : 0;
}

int tl_ensemble_run(struct tl_ensemble *e)
{
    e->run = false;
    const int status = tl_ponds_run(e->pond, e->ponds, &e->options);
    e->run = status == TL_OK;
    return status;
}

/* --- what came out -------------------------------------------------------------------------------- */

size_t tl_ensemble_ponds(const struct tl_ensemble *e)
{
    return e->ponds;
}

int tl_ensemble_status(const struct tl_ensemble *e, size_t pond)
{
    return e->run && pond < e->ponds ? e->pond[pond].status : TL_E_INPUT;
}

/* NULL: nothing came out. */
static const struct tl_pond *judged(const struct tl_ensemble *e, size_t pond)
{
    return tl_ensemble_status(e, pond) == TL_OK ? &e->pond[pond] : NULL;
}

const char *tl_ensemble_verdict(const struct tl_ensemble *e, size_t pond)
{
    const struct tl_pond *p = judged(e, pond);
    if (!p)
        return NULL;
    /* shallow: the model keeps what it points to */
    const struct tl_scenario scenario = {.setup = *tl_model_setup(p->model)};
    const struct tl_heat_course *heat = tl_model_heat(p->model);
    const struct tl_outcome outcome = {.scenario = &scenario,
                                       .verdict = &p->verdict,
                                       .ranges = &p->ranges,
                                       .heat = heat ? &heat->summary : NULL,
                                       .fish_lost_d = p->fish_lost_d};
    return tl_outcome_verdict(&outcome);
}

int tl_ensemble_limit(const struct tl_ensemble *e, size_t pond, size_t index,
                      struct tl_loop_limit *limit)
{
    const struct tl_pond *p = judged(e, pond);
    if (!p || index >= TL_NLIMIT)
        return TL_E_INPUT;
    *limit = tl_loop_limit_of(&p->verdict.limit[index]);
    return TL_OK;
}

double tl_ensemble_fish_lost_d(const struct tl_ensemble *e, size_t pond)
{
    const struct tl_pond *p = judged(e, pond);
    return p ? p->fish_lost_d : NAN;
}

double tl_ensemble_ready_d(const struct tl_ensemble *e, size_t pond)
{
    const struct tl_pond *p = judged(e, pond);
    return p ? p->verdict.filter_ready_d : NAN;
}

const char *tl_ensemble_dispatch(const struct tl_ensemble *e, size_t pond)
{
    const struct tl_pond *p = judged(e, pond);
    struct tl_build b;
    if (!p)
        return NULL;
    tl_build_info_at(&b, p->level);
    return b.dispatch;
}
