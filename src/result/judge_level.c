/* The judge in vector lanes, compiled for TL_WIDE lanes and one level of the processor, TL_LEVEL. This
 * file is compiled once a level. */
#include "lane_judge.h"
#include "towerloop/ranges.h"
#include "verdict_kernel.h"

#define JOINED(a, b)   a##b
#define NAME_OF(level) JOINED(tl_judges_, level)
#define QUOTED(x)      #x
#define TEXT_OF(x)     QUOTED(x)

struct judge {
    struct tl_lane_judge open; /* first: what others see */
    struct tl_judging judging;
    real temperature, held; /* now, and what the constants belong to */
    real h, ph;
    real pressure;
    real
        supersaturated; /* g/m3 of oxygen that it is not below at this temperature, whatever the salt */
};

static const struct {
    double low, high;
} range[TL_NRANGE] = {
#define RANGE(id, what, unit, low, high, use, source) [id] = {low, high},
    TL_RANGE_LIST(RANGE)
#undef RANGE
};

static struct tl_lane_judge *create(double length_d)
{
    struct judge *j = lane_alloc(sizeof *j);
    if (!j)
        return NULL;
    j->open = (struct tl_lane_judge){(double *)&j->judging.limits, (double *)&j->temperature,
                                     (double *)&j->pressure, (const double *)&j->ph};
    j->h = lane_all(1e-8);
    j->pressure = lane_all(1);
    j->held = lane_all(NAN);
    tl_judging_begin(&j->judging, length_d);
    return &j->open;
}

static void release(struct tl_lane_judge *open)
{
    struct judge *j = (struct judge *)open;
    if (!j)
        return;
    tl_judging_free(&j->judging);
    free(j);
}

static unsigned strange_lanes(const struct judge *j, const real *water)
{
    const real salinity = TL_SALINITY_PER_CHLORIDE_G * water[TL_CL];
    const mask out = (j->ph < range[TL_RANGE_EPA_PH].low) | (j->ph > range[TL_RANGE_EPA_PH].high) |
                     (salinity > range[TL_RANGE_SALINITY].high) |
                     (water[TL_O2] > j->supersaturated);
    unsigned bits = 0;
    if (lane_any(out))
        for (unsigned l = 0; l < TL_WIDE; l++)
            bits |= out[l] ? 1u << l : 0;
    return bits;
}

static int add(struct tl_lane_judge *open, double t_d, const double *tank, bool occupied,
               unsigned *strange)
{
    struct judge *j = (struct judge *)open;
    const real *water = (const real *)tank;

    if (lane_any(lane_not(j->temperature == j->held))) {
        lane_carbonate_constants(j->temperature, &j->judging.k);
        lane_epa_ammonia_warmth(j->temperature, &j->judging.epa);
        j->supersaturated =
            range[TL_RANGE_SUPERSATURATION].high / 100 *
            lane_o2_saturation(j->temperature, lane_all(range[TL_RANGE_SALINITY].high),
                               j->pressure);
        j->held = j->temperature;
    }
    const int status =
        lane_solve_ph(&j->judging.k, water[TL_ALK], water[TL_TIC], water[TL_TAN], &j->h);
    if (status)
        return status;
    j->ph = -lane_log10(j->h);
    *strange = strange_lanes(j, water);
    return tl_judging_add(&j->judging, t_d, j->temperature, water, j->h, j->ph, occupied);
}

static void close_all(struct tl_lane_judge *open)
{
    tl_judging_close(&((struct judge *)open)->judging);
}

static void read_lane(const struct tl_lane_judge *open, size_t lane, struct tl_verdict *out)
{
    tl_judging_read(&((const struct judge *)open)->judging, lane, out);
}

const struct tl_lane_judge_level NAME_OF(TL_LEVEL) = {
    .name = TEXT_OF(TL_LEVEL),
    .wide = TL_WIDE,
    .create = create,
    .release = release,
    .add = add,
    .close = close_all,
    .read = read_lane,
};
