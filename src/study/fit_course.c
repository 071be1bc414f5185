/* One run, looked at where there are readings. */
#include "fit_course.h"

#include <math.h>

#include "derived.h"
#include "towerloop/chem.h"
#include "towerloop/engine.h"
#include "towerloop/model.h"
#include "towerloop/status.h"

struct look {
    const struct tl_fit_course *c;
    const struct tl_model *m;
    struct tl_work *work;
    struct tl_snapshot snapshot;
    size_t next; /* row that was not looked at */
    double *value;
};

/* A body of water at one instant. */
struct body {
    const double *water;
    double ph, temperature_degC;
};

static double co2(const struct body *b)
{
    struct tl_carbonate k;
    tl_carbonate_constants(b->temperature_degC, &k);
    return TL_CO2_G_PER_MOL * tl_co2_mol_m3(&k, pow(10, -b->ph), b->water[TL_TIC]);
}

static double value_in(const struct body *b, enum tl_measured_quantity quantity)
{
    static const enum tl_water_component component[TL_NMEASURED] = {
        [TL_MEASURED_TAN] = TL_TAN,       [TL_MEASURED_NO2] = TL_NO2,
        [TL_MEASURED_NO3] = TL_NO3,       [TL_MEASURED_ALKALINITY] = TL_ALK,
        [TL_MEASURED_O2] = TL_O2,         [TL_MEASURED_CHLORIDE] = TL_CL,
        [TL_MEASURED_CHLORINE] = TL_HOCL,
    };
    switch (quantity) {
    case TL_MEASURED_NH3:
        return b->water[TL_TAN] * tl_nh3_fraction(b->temperature_degC, b->ph);
    case TL_MEASURED_PH:
        return b->ph;
    case TL_MEASURED_CO2:
        return co2(b);
    case TL_MEASURED_TEMPERATURE:
        return b->temperature_degC;
    default:
        return b->water[component[quantity]];
    }
}

static double value_at(const struct tl_snapshot *s, const struct tl_measured *m)
{
    struct body b = {s->tank, s->tank_ph, s->temperature_degC};
    if (m->place == TL_PLACE_CHAMBER) {
        b.water = s->chamber;
        b.ph = s->chamber_ph;
    } else if (m->place == TL_PLACE_TOWER_OUT) {
        b.water = s->tower_out;
        b.ph = s->tower_out_ph;
        if (!s->tower_on)
            return NAN;
    }
    return value_in(&b, m->quantity);
}

static int see(void *arg, double t_d, const struct tl_controls *controls, const double *y)
{
    struct look *l = arg;
    const double until_d = t_d + TL_FIT_PERIOD_D / 2;
    if (l->next == l->c->rows || l->c->row[l->next].t_d > until_d)
        return TL_OK;
    const int status = tl_model_snapshot(l->m, l->work, controls, t_d, y, &l->snapshot);
    for (; !status && l->next < l->c->rows && l->c->row[l->next].t_d <= until_d; l->next++)
        if (l->c->row[l->next].t_d > t_d - TL_FIT_PERIOD_D)
            l->value[l->next] = value_at(&l->snapshot, &l->c->row[l->next]);
    return status;
}

static int run(struct look *l)
{
    const struct tl_observer observer = {.period_d = TL_FIT_PERIOD_D, .see = see, .arg = l};
    const struct tl_engine_options options = {.rtol = l->c->rtol,
                                              .observer = &observer,
                                              .observers = 1,
                                              .interrupted = l->c->interrupted};
    struct tl_engine *e = NULL;
    int status = tl_engine_new(l->m, &options, &e);
    if (!status)
        status = tl_engine_advance(e, l->c->row[l->c->rows - 1].t_d + TL_FIT_PERIOD_D);
    tl_engine_free(e);
    return status;
}

int tl_fit_course(const struct tl_scenario *s, const struct tl_fit_course *c, double *value)
{
    struct look l = {.c = c, .value = value};
    struct tl_model *m = NULL;

    for (size_t i = 0; i < c->rows; i++)
        value[i] = NAN;
    int status = c->rows > 0 ? tl_model_build(&s->setup, &m) : TL_OK;
    l.m = m;
    if (m && !status)
        status = tl_work_new(m, &l.work);
    if (m && !status)
        status = tl_snapshot_alloc(m, &l.snapshot);
    if (m && !status)
        status = run(&l);
    tl_snapshot_free(&l.snapshot);
    tl_work_free(l.work);
    tl_model_free(m);
    return status;
}
