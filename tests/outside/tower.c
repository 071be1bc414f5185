/* The tower within the loop: what it oxidises per area, how its films lie over the depth, what it
 * strips, and what the walls do beside it. */
#include "outside.h"

#include <math.h>

#include "loops.h"
#include "moved.h"
#include "still_film.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"
#include "whole_run.h"

#define AT_REST_D 60

/* What is read from a loop of so many kg of fish at rest; means and sums of the last day. */
struct at_rest {
    double areal;       /* ammonia oxidised in the trays, gN per m2 wetted and day */
    double areal_media; /* the same per m2 of media, wet or not */
    double tan, no2;    /* mg/L in the tank */
    double ammonia_lie; /* capacity of the lowest tray over that of the uppermost, in one water */
    double nitrite_lie;
    double co2_stripped; /* %, of what enters the tower */
    double on_walls;     /* %, of the ammonia oxidised */
};

/* Means over the day of what the observer sees. */
struct watch {
    double tan, no2;
    unsigned long n;
};

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct watch *w = arg;

    (void)c;
    if (t_d < AT_REST_D - 1)
        return TL_OK;
    w->tan += y[TL_TAN];
    w->no2 += y[TL_NO2];
    w->n++;
    return TL_OK;
}

/* Capacity of a tray's film in test water of 2 mg/L ammonia and 1 of nitrite. */
static void capacity(const double *film, double *ammonia, double *nitrite)
{
    struct still_water w = still_clean(24.0, 2.0);
    struct still_film f;

    w.no2 = 1.0;
    still_start(&f, true);
    for (int i = 0; i < TL_NFILM; i++)
        f.film[i] = film[i];
    still_pour(&f, &w);
    *ammonia = still_ammonia_rate(&f);
    *nitrite = still_nitrite_rate(&f);
}

static double co2(const struct tl_snapshot *s, const double *water, double ph)
{
    struct tl_carbonate k;

    tl_carbonate_constants(s->temperature_degC, &k);
    return tl_co2_mol_m3(&k, pow(10.0, -ph), water[TL_TIC]);
}

static int read_end(const struct whole_run *r, struct at_rest *out)
{
    struct tl_work *w = NULL;
    struct tl_snapshot now;
    double ammonia[2], nitrite[2];

    if (tl_work_new(r->model, &w) != TL_OK)
        return -1;
    if (tl_snapshot_alloc(r->model, &now) != TL_OK) {
        tl_work_free(w);
        return -1;
    }
    const int status = tl_model_snapshot(r->model, w, tl_engine_controls(r->engine),
                                         tl_engine_time(r->engine), r->y, &now);
    if (status == TL_OK) {
        const double in = co2(&now, now.chamber, now.chamber_ph);

        out->co2_stripped = 100.0 * (1.0 - co2(&now, now.tower_out, now.tower_out_ph) / in);
        capacity(now.tray[0], &ammonia[0], &nitrite[0]);
        capacity(now.tray[now.trays - 1], &ammonia[1], &nitrite[1]);
        out->ammonia_lie = ammonia[1] / ammonia[0];
        out->nitrite_lie = nitrite[1] / nitrite[0];
    }
    tl_snapshot_free(&now);
    tl_work_free(w);
    return status == TL_OK ? 0 : -1;
}

/* The reference loop with so many kg of fish and the aerator to match; `load_m_h` of water over the
 * trays, 0 for its own 16.8. */
static struct at_rest rest_of(double fish_kg, double load_m_h)
{
    static struct { /* runs are dear and several checks look at one */
        double fish_kg, load_m_h;
        struct at_rest seen;
    } known[8];
    static size_t n;
    struct at_rest out = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    struct watch watch = {0.0, 0.0, 0};
    const struct tl_observer o = {1.0 / 96.0, TL_NWATER, see, &watch};
    struct tl_setup s;
    struct whole_run r;
    double growth[2][3]; /* before and after the day: trays, tank wall, chamber wall */

    for (size_t i = 0; i < n && !moved_any(); i++) {
        if (known[i].fish_kg == fish_kg && known[i].load_m_h == load_m_h)
            return known[i].seen;
    }
    reference_loop(&s, fish_kg);
    s.length_d = AT_REST_D;
    if (load_m_h > 0.0)
        s.pump_flow_m3_d = load_m_h * 24.0 * s.tower.plan_area_m2;
    if (whole_run_start(&s, &o, &r) != 0)
        goto done;
    for (int k = 0; k < 2; k++) {
        if (whole_run_to(&r, AT_REST_D - 1 + k) != 0)
            goto done;
        growth[k][0] = r.y[r.at->extent_tower + TL_GROW_A];
        growth[k][1] = r.y[r.at->extent_tank + TL_GROW_A];
        growth[k][2] = r.y[r.at->extent_chamber + TL_GROW_A];
    }
    const double oxidised = (growth[1][0] - growth[0][0]) / s.params.y_aob;
    const double walls =
        (growth[1][1] - growth[0][1] + growth[1][2] - growth[0][2]) / s.params.y_aob;
    const double media = s.tower.trays * s.tower.plan_area_m2 * s.tower.media_depth_m *
                         s.tower.specific_surface_m2_m3;
    const struct tl_packing packing = {s.tower.specific_surface_m2_m3, s.tower.media_size_m,
                                       s.tower.critical_surface_tension_n_m};
    struct tl_wetting wet;

    tl_onda(&packing, s.pump_flow_m3_d / 24.0 / s.tower.plan_area_m2, s.temperature.mean_degC,
            &wet);
    if (read_end(&r, &out) != 0)
        goto done;
    out.areal = oxidised / (media * wet.wetted_fraction);
    out.areal_media = oxidised / media;
    out.tan = watch.tan / (double)watch.n;
    out.no2 = watch.no2 / (double)watch.n;
    out.on_walls = 100.0 * walls / (walls + oxidised);
    if (n < sizeof known / sizeof known[0] && !moved_any()) {
        known[n].fish_kg = fish_kg;
        known[n].load_m_h = load_m_h;
        known[n++].seen = out;
    }
done:
    whole_run_end(&r);
    free_loop(&s);
    return out;
}

static double load_of(const double *in)
{
    return isnan(in[1]) ? 0.0 : in[1];
}

#define READS(name, expression)                                                                    \
    static double name(const double *in)                                                           \
    {                                                                                              \
        const struct at_rest x = rest_of(in[0], load_of(in));                                      \
        return expression;                                                                         \
    }
READS(areal, x.areal)
READS(areal_media, x.areal_media)
READS(ammonia_over_depth, x.ammonia_lie)
READS(nitrite_over_depth, x.nitrite_lie)
READS(co2_stripped, x.co2_stripped)
READS(on_walls, x.on_walls)

/* Nitrite to ammonia in the tank against the same with half of the fish. */
static double ratio_kept(const double *in)
{
    const struct at_rest x = rest_of(in[0], load_of(in));
    const struct at_rest half = rest_of(0.5 * in[0], load_of(in));

    return x.no2 / x.tan / (half.no2 / half.tan);
}

#define LOOP                                                                                       \
    {                                                                                              \
        {"fish_kg", "", " kg of fish"},                                                            \
        {                                                                                          \
            "load_m_h", "", " m/h over the trays"                                                  \
        }                                                                                          \
    }

static const struct outside_series series[] = {
    /* file, quantity, what, unit, inputs, value, moved */
    {"tower.csv", "areal", "tower, rate", "g/m2/d", LOOP, areal, NULL},
    {"tower.csv", "areal media", "tower, rate per media wet or dry", "g/m2/d", LOOP, areal_media,
     NULL},
    {"tower.csv", "ammonia over depth", "ammonia capacity, lowest tray over uppermost", "", LOOP,
     ammonia_over_depth, NULL},
    {"tower.csv", "nitrite over depth", "nitrite capacity, lowest tray over uppermost", "", LOOP,
     nitrite_over_depth, NULL},
    {"tower.csv", "ratio kept", "nitrite to ammonia in the tank over that with half of the fish",
     "", LOOP, ratio_kept, NULL},
    {"tower.csv", "co2", "tower, CO2 stripped", "%", LOOP, co2_stripped, NULL},
    {"tower.csv", "walls", "ammonia oxidised on walls", "%", LOOP, on_walls, NULL},
};

const struct outside_group outside_tower = {
    "Tower in the loop",
    series,
    sizeof series / sizeof series[0],
};
