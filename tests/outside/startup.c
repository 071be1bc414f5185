/* Starting a new filter, by whole runs: days and heights against published time courses. */
#include "outside.h"

#include <math.h>

#include "loops.h"
#include "moved.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"
#include "whole_run.h"

/* What is read at 12:00 of every day of a start with new media. */
struct course {
    double tan_peak, tan_peak_d; /* mg/L, day */
    double no2_peak, no2_peak_d;
    double tan_ready_d; /* ammonia below 1.0 mg/L from then on */
    double no2_ready_d; /* nitrite below 0.5 mg/L from then on */
    double tan_13;      /* ammonia on day 13 */
};

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct course *x = arg;
    const double day = floor(t_d);

    (void)c;
    if (fabs(t_d - day - 0.5) > 1e-6)
        return TL_OK;
    if (y[TL_TAN] > x->tan_peak) {
        x->tan_peak = y[TL_TAN];
        x->tan_peak_d = day;
    }
    if (y[TL_NO2] > x->no2_peak) {
        x->no2_peak = y[TL_NO2];
        x->no2_peak_d = day;
    }
    if (y[TL_TAN] >= 1.0)
        x->tan_ready_d = day + 1.0;
    if (y[TL_NO2] >= 0.5)
        x->no2_ready_d = day + 1.0;
    if (day <= 13.0)
        x->tan_13 = y[TL_TAN];
    return TL_OK;
}

/* The reference loop with new media, 25 kg of fish fed 0.6 %/d. */
static struct course start_at(double t_degC)
{
    static struct { /* several checks look at one run */
        double t_degC;
        struct course seen;
    } known[8];
    static size_t n;
    struct course x = {0.0, NAN, 0.0, NAN, 0.0, 0.0, NAN};
    const struct tl_observer o = {0.25, TL_NWATER, see, &x};
    struct tl_setup s;
    struct whole_run r;

    for (size_t i = 0; i < n && !moved_any(); i++) {
        if (known[i].t_degC == t_degC)
            return known[i].seen;
    }
    reference_loop(&s, 25.0);
    s.temperature.mean_degC = t_degC;
    s.feeding.ration.value = 0.006;
    s.aerator_g_d = 200.0;
    s.tower.biofilm = TL_BIOFILM_NEW;
    s.length_d = 120.0;
    if (whole_run_start(&s, &o, &r) != 0 || whole_run_to(&r, INFINITY) != 0) {
        x = (struct course){NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    } else if (n < sizeof known / sizeof known[0] && !moved_any()) {
        known[n].t_degC = t_degC;
        known[n++].seen = x;
    }
    whole_run_end(&r);
    free_loop(&s);
    return x;
}

#define READS(name, expression)                                                                    \
    static double name(const double *in)                                                           \
    {                                                                                              \
        const struct course x = start_at(in[0]);                                                   \
        return expression;                                                                         \
    }
READS(tan_peak_day, x.tan_peak_d)
READS(no2_peak_day, x.no2_peak_d)
READS(no2_over_tan, x.no2_peak / x.tan_peak)
READS(tan_left, 100.0 * x.tan_13 / x.tan_peak)
READS(tan_ready, x.tan_ready_d)
READS(no2_after_tan, x.no2_ready_d - x.tan_ready_d)
READS(ready, fmax(x.tan_ready_d, x.no2_ready_d))

static double cold_over_warm(const double *in)
{
    const double warm = 22.5;

    return ready(in) / ready(&warm);
}

/* mg/L of ammonium left on day 5 of a dose of 50 in 1 m3 over the reference tower, no fish; in: how
 * much of a mature film the media start with, %, 0 for new ones. */
static double ammonium_left(const double *in)
{
    const double nh4_per_n = 18.039 / TL_N_G_PER_MOL;
    struct tl_setup s;
    struct whole_run r;
    double left = NAN;

    reference_loop(&s, 0.0);
    s.fish_groups = 0;
    s.feeding.meals = 0;
    s.temperature.mean_degC = 27.0;
    s.tank.volume_m3 = 1.0;
    s.trickle_1_d = 0.0;
    s.starting.water[TL_TAN] = 50.0 / nh4_per_n;
    s.starting.water[TL_ALK] = 8.0;
    s.tower.biofilm = in[0] > 0.0 ? TL_BIOFILM_SEEDED : TL_BIOFILM_NEW;
    s.tower.seeded_share = in[0] / 100.0;
    s.length_d = 5.0;
    if (whole_run_start(&s, NULL, &r) == 0 && whole_run_to(&r, INFINITY) == 0)
        left = nh4_per_n * r.y[r.at->tank + TL_TAN];
    whole_run_end(&r);
    free_loop(&s);
    return left;
}

#define T                                                                                          \
    {                                                                                              \
        {                                                                                          \
            "temperature_c", "", " degC"                                                           \
        }                                                                                          \
    }

static const struct outside_series series[] = {
    /* file, quantity, what, unit, inputs, value, moved */
    {"startup.csv", "tan peak", "day of most ammonia", "d", T, tan_peak_day, NULL},
    {"startup.csv", "no2 peak", "day of most nitrite", "d", T, no2_peak_day, NULL},
    {"startup.csv", "no2 over tan", "most nitrite over most ammonia", "", T, no2_over_tan, NULL},
    {"startup.csv", "tan left", "ammonia on day 13 over its most", "%", T, tan_left, NULL},
    {"startup.csv", "tan ready", "ammonia low for good", "d", T, tan_ready, NULL},
    {"startup.csv", "no2 after tan", "nitrite low for good, after ammonia", "d", T, no2_after_tan,
     NULL},
    {"startup.csv", "ready", "filter ready", "d", T, ready, NULL},
    {"startup.csv", "cold over warm", "filter ready, over the time at 22.5 degC", "", T,
     cold_over_warm, NULL},
    {"startup.csv",
     "ammonium left",
     "ammonium left of 50 mg/L on day 5",
     "mg/L",
     {{"seeded_percent", "media seeded ", " %"}},
     ammonium_left,
     NULL},
};

const struct outside_group outside_startup = {
    "Starting a filter",
    series,
    sizeof series / sizeof series[0],
};
