/* The quantities, their bins, the intervals. */
#include "watched.h"

#include <math.h>

#include "towerloop/chem.h"

static const struct tl_watched row[TL_NWATCHED] = {
#define ROW(id, name, unit, below, log, low, width, bins)                                          \
    [id] = {name, unit, below, {log, low, width, bins}},
    TL_WATCHED_LIST(ROW)
#undef ROW
};

/* Narrow, as the ranks of the worst values are taken from them. */
static const struct tl_bins by_share = {true, 1e-5, 0.001, 21000};
static const struct tl_bins by_ph = {false, 0, 0.001, 14020};
static const struct tl_bins by_degC = {false, -20, 0.005, 20020};

static const struct {
    const struct tl_bins *bins;
    enum tl_watched_id watched;
} limit_row[TL_NLIMIT] = {
    [TL_LIMIT_NH3] = {&by_share, TL_WATCHED_NH3},
    [TL_LIMIT_TAN_CHRONIC] = {&by_share, TL_WATCHED_TAN},
    [TL_LIMIT_TAN_ACUTE] = {&by_share, TL_WATCHED_TAN},
    [TL_LIMIT_NO2] = {&by_share, TL_WATCHED_NO2},
    [TL_LIMIT_NO3] = {&by_share, TL_WATCHED_NO3},
    [TL_LIMIT_O2] = {&by_share, TL_WATCHED_O2},
    [TL_LIMIT_PH_LOW] = {&by_ph, TL_WATCHED_PH_LOW},
    [TL_LIMIT_PH_HIGH] = {&by_ph, TL_WATCHED_PH_HIGH},
    [TL_LIMIT_PH_SWING] = {&by_ph, TL_NWATCHED},
    [TL_LIMIT_ALK] = {&by_share, TL_WATCHED_ALK},
    [TL_LIMIT_CO2] = {&by_share, TL_NWATCHED},
    [TL_LIMIT_CHLORINE] = {&by_share, TL_NWATCHED},
    [TL_LIMIT_CHLORIDE] = {&by_share, TL_NWATCHED},
    [TL_LIMIT_COLD] = {&by_degC, TL_WATCHED_COLD},
    [TL_LIMIT_WARM] = {&by_degC, TL_WATCHED_WARM},
    [TL_LIMIT_HOUR_CHANGE] = {&by_degC, TL_NWATCHED},
    [TL_LIMIT_DAY_CHANGE] = {&by_degC, TL_NWATCHED},
};

const struct tl_watched *tl_watched(size_t id)
{
    return &row[id];
}

const struct tl_bins *tl_limit_bins(enum tl_limit_id limit)
{
    return limit_row[limit].bins;
}

enum tl_watched_id tl_limit_watched(enum tl_limit_id limit)
{
    return limit_row[limit].watched;
}

void tl_watched_values(const struct tl_snapshot *g, double value[TL_NWATCHED])
{
    value[TL_WATCHED_O2] = g->tank[TL_O2];
    value[TL_WATCHED_TAN] = g->tank[TL_TAN];
    value[TL_WATCHED_NH3] = g->tank[TL_TAN] * tl_nh3_fraction(g->temperature_degC, g->tank_ph);
    value[TL_WATCHED_NO2] = g->tank[TL_NO2];
    value[TL_WATCHED_PH_LOW] = value[TL_WATCHED_PH_HIGH] = g->tank_ph;
    value[TL_WATCHED_ALK] = g->tank[TL_ALK] * TL_CACO3_G_PER_EQ;
    value[TL_WATCHED_NO3] = g->tank[TL_NO3];
    value[TL_WATCHED_COLD] = value[TL_WATCHED_WARM] = g->temperature_degC;
}

/* --- intervals ---------------------------------------------------------------------------------- */

#define HOUR_D   (1.0 / 24)
#define HOURLY_D 14.0 /* no longer than that: by the hour */
#define MOST     400.0
#define SLACK    1e-6 /* of an interval: sums of 5 minutes are not exact */

static double first_of(const struct tl_intervals *v)
{
    return floor(v->start_d / v->length_d + SLACK);
}

struct tl_intervals tl_intervals_of(double start_d, double length_d)
{
    struct tl_intervals v = {.start_d = start_d, .end_d = start_d + length_d};
    const bool hourly = length_d <= HOURLY_D;
    v.length_d = hourly ? HOUR_D : fmax(1, ceil(length_d / (MOST - 1)));
    v.sample_d = hourly ? 5.0 / 1440 : 30.0 / 1440;
    v.count = (size_t)fmax(1, ceil(v.end_d / v.length_d - SLACK) - first_of(&v));
    return v;
}

size_t tl_interval_at(const struct tl_intervals *v, double t_d)
{
    const double i = floor(t_d / v->length_d + SLACK) - first_of(v);
    return (size_t)fmax(0, fmin(i, (double)(v->count - 1)));
}

double tl_interval_middle(const struct tl_intervals *v, size_t interval)
{
    const double from = (first_of(v) + (double)interval) * v->length_d;
    return (fmax(from, v->start_d) + fmin(from + v->length_d, v->end_d)) / 2;
}
