/* The film alone under constant water: areal laws, and its answers to temperature, oxygen, organics,
 * alkalinity, pH and hunger. */
#include "outside.h"

#include <math.h>

#include "still_film.h"

/* --- areal laws --------------------------------------------------------------------------------- */

/* Over the law of Zhu & Chen 1999 at 27.2 degC, with their 4.3 % a degree. */
static double over_zhu_chen(const double *in)
{
    const struct still_water w = still_clean(in[0], in[1]);
    const double law = 1.859 * (in[1] - 0.07) / (in[1] + 1.93) * pow(1.043, in[0] - 27.2);

    return still_steady_rate(&w) / law;
}

/* The three constants of that law that go through the model's rates at 0.5, 2 and 8 mg/L:
 * R (S + K) = Rmax S - Rmax Smin is linear in K, Rmax and Rmax Smin. */
static void fit_law(double *r_max, double *k, double *s_min)
{
    static const double s[3] = {0.5, 2.0, 8.0};
    double r[3];

    for (int i = 0; i < 3; i++) {
        const struct still_water w = still_clean(27.2, s[i]);
        r[i] = still_steady_rate(&w);
    }
    /* differences to the first row leave K and Rmax */
    const double a1 = r[1] - r[0], b1 = s[1] - s[0], c1 = r[1] * s[1] - r[0] * s[0];
    const double a2 = r[2] - r[0], b2 = s[2] - s[0], c2 = r[2] * s[2] - r[0] * s[0];
    /* K a + c = Rmax b */
    *r_max = (a1 * c2 - a2 * c1) / (a1 * b2 - a2 * b1);
    *k = (*r_max * b1 - c1) / a1;
    *s_min = s[0] - r[0] * (s[0] + *k) / *r_max;
}

static double law_maximum(const double *in)
{
    double r_max, k, s_min;

    (void)in;
    fit_law(&r_max, &k, &s_min);
    return r_max;
}

static double law_half_saturation(const double *in)
{
    double r_max, k, s_min;

    (void)in;
    fit_law(&r_max, &k, &s_min);
    return k;
}

static double law_minimum(const double *in)
{
    double r_max, k, s_min;

    (void)in;
    fit_law(&r_max, &k, &s_min);
    return s_min;
}

static double areal_rate(const double *in)
{
    const struct still_water w = still_clean(in[0], in[1]);

    return still_steady_rate(&w);
}

/* --- temperature, oxygen ------------------------------------------------------------------------ */

/* %/degC at 20 degC; in: TAN, oxygen (NAN: saturated). */
static double slope_at_20(const double *in)
{
    double r[2];

    for (int i = 0; i < 2; i++) {
        struct still_water w = still_clean(19.5 + i, in[0]);
        w.o2 = in[1];
        r[i] = still_steady_rate(&w);
    }
    return 100.0 * log(r[1] / r[0]);
}

/* %; a film long at 1 degC against one long at 20. */
static double cold_share(const double *in)
{
    const struct still_water cold = still_clean(1.0, in[0]);
    const struct still_water warm = still_clean(20.0, in[0]);

    return 100.0 * still_steady_rate(&cold) / still_steady_rate(&warm);
}

/* The temperature between 10 and 35 degC at which a film oxidises most. */
static double best_temperature(const double *in)
{
    double best = NAN;
    double most = 0.0;

    for (int t = 10; t <= 35; t++) {
        const struct still_water w = still_clean(t, in[0]);
        const double r = still_steady_rate(&w);
        if (r > most) {
            most = r;
            best = t;
        }
    }
    return best;
}

/* The oxygen at which half of the rate in saturated water is left, mg/L. */
static double limiting_oxygen(const double *in)
{
    struct still_water w = still_clean(20.0, in[0]);
    const double half = 0.5 * still_steady_rate(&w);
    double lo = 0.01;
    double hi = 9.0;

    for (int i = 0; i < 30; i++) {
        w.o2 = 0.5 * (lo + hi);
        if (still_steady_rate(&w) < half)
            lo = w.o2;
        else
            hi = w.o2;
    }
    return 0.5 * (lo + hi);
}

/* --- organics, alkalinity, pH ------------------------------------------------------------------- */

/* %; what is lost when dissolved organics are added. In: TAN, organics gCOD/m3. */
static double loss_by_organics(const double *in)
{
    struct still_water w = still_clean(20.0, in[0]);
    const double clean = still_steady_rate(&w);

    w.ss = in[1];
    return 100.0 * (1.0 - still_steady_rate(&w) / clean);
}

/* Rate of one and the same film when its water is changed, over that in clean water, as in a test of
 * hours. */
static double at_once(const struct still_water *changed)
{
    const struct still_water clean = still_clean(20.0, 1.0);
    struct still_film f;

    still_start(&f, true);
    still_pour(&f, &clean);
    if (still_grow(&f, 600) != 0)
        return NAN;
    const double before = still_ammonia_rate(&f);
    still_pour(&f, changed);
    return still_ammonia_rate(&f) / before;
}

static double at_alkalinity(const double *in)
{
    struct still_water w = still_clean(20.0, 1.0);

    w.alk_mg_l = in[0];
    return at_once(&w);
}

/* %; a film long at this pH, over the best pH. */
static double at_ph(const double *in)
{
    struct still_water w = still_clean(20.0, 1.0);
    double best = 0.0;

    for (w.ph = 7.0; w.ph < 9.05; w.ph += 0.1)
        best = fmax(best, still_steady_rate(&w));
    w.ph = in[0];
    return 100.0 * still_steady_rate(&w) / best;
}

/* The pH on the acid side at which half of the best rate is left. */
static double half_ph(const double *in)
{
    double lo = 5.0;
    double hi = 8.0;

    (void)in;
    for (int i = 0; i < 30; i++) {
        const double ph = 0.5 * (lo + hi);
        if (at_ph(&ph) < 50.0)
            lo = ph;
        else
            hi = ph;
    }
    return 0.5 * (lo + hi);
}

/* Least squares through pH 5 to 9 in steps of a half: % of the best rate per unit. */
static double ph_slope(const double *in)
{
    double sxy = 0.0;
    double sxx = 0.0;

    (void)in;
    for (double x = -2.0; x <= 2.0; x += 0.5) {
        const double ph = 7.0 + x;
        sxy += x * at_ph(&ph);
        sxx += x * x;
    }
    return sxy / sxx;
}

static double best_ph(const double *in)
{
    struct still_water w = still_clean(20.0, 1.0);
    double best = NAN;
    double most = 0.0;

    (void)in;
    for (int i = 50; i <= 100; i++) {
        w.ph = i / 10.0;
        const double r = still_steady_rate(&w);
        if (r > most) {
            most = r;
            best = w.ph;
        }
    }
    return best;
}

/* Nitrite oxidised as a share of that without un-ionised ammonia, %; in: NH3-N mg/L. The film is the
 * same; pH and alkalinity are, too. */
static double nitrite_at_nh3(const double *in)
{
    struct still_water w = still_clean(20.0, 2.0);
    struct still_film f;

    w.no2 = 1.0;
    still_start(&f, true);
    still_pour(&f, &w);
    const double h = pow(10.0, -w.ph);
    const double share = f.climate.k.ka / (f.climate.k.ka + h);
    double water[TL_NWATER] = {[TL_ALK] = 3.0};
    struct tl_film_switch without;

    tl_film_switch_at(&f.model, &f.climate, h, water, &without);
    water[TL_TAN] = in[0] / share;
    tl_film_switch_at(&f.model, &f.climate, h, water, &f.sw);
    const double with_nh3 = still_nitrite_rate(&f);
    f.sw = without;
    return 100.0 * with_nh3 / still_nitrite_rate(&f);
}

/* --- starvation --------------------------------------------------------------------------------- */

/* A film at rest under 2 mg/L of ammonia and 1 of nitrite, then starved for `days`. */
static int starve(struct still_film *f, double days, double *ammonia, double *nitrite)
{
    struct still_water fed = still_clean(20.0, 2.0);
    struct still_water hungry = still_clean(20.0, 0.0);

    fed.no2 = 1.0;
    still_start(f, true);
    still_pour(f, &fed);
    if (still_grow(f, 600) != 0)
        return -1;
    *ammonia = still_ammonia_rate(f);
    *nitrite = still_nitrite_rate(f);
    still_pour(f, &hungry);
    if (still_grow(f, days) != 0)
        return -1;
    still_pour(f, &fed);
    return 0;
}

/* Decay of the mass of a guild over the hungry days, 1/d. */
static double hungry_decay(double days, int guild)
{
    struct still_film fed;
    struct still_film hungry;
    double a, n;

    if (starve(&fed, 0.0, &a, &n) != 0 || starve(&hungry, days, &a, &n) != 0)
        return NAN;
    return log(fed.film[guild] / hungry.film[guild]) / days;
}

static double hungry_decay_a(const double *in)
{
    return hungry_decay(in[0], TL_FA);
}

static double hungry_decay_n(const double *in)
{
    return hungry_decay(in[0], TL_FN);
}

/* Days of food until 95 % of the former rate is back. */
static double recovery(double days, double (*rate)(const struct still_film *))
{
    struct still_film f;
    double former[2];
    double last = 0.0;

    if (starve(&f, days, &former[0], &former[1]) != 0)
        return NAN;
    const double target = 0.95 * former[rate == still_nitrite_rate];
    for (int i = 0; i < 2000; i++) {
        const double now = rate(&f);
        if (now >= target)
            return i == 0 ? 0.0 : 0.1 * (i - (now - target) / (now - last));
        last = now;
        if (still_grow(&f, 0.1) != 0)
            return NAN;
    }
    return NAN;
}

static double recovery_a(const double *in)
{
    return recovery(in[0], still_ammonia_rate);
}

/* %; nitrite oxidation of what it was, after as many days of food as of hunger. */
static double nitrite_back(const double *in)
{
    struct still_film f;
    double a, n;

    if (starve(&f, in[0], &a, &n) != 0 || still_grow(&f, in[0]) != 0)
        return NAN;
    return 100.0 * still_nitrite_rate(&f) / n;
}

/* --- growth from nothing -------------------------------------------------------------------------- */

/* Days until a new film under this water oxidises 95 % of what it will at rest. */
static double days_to_grow(const double *in)
{
    struct still_water w = still_clean(in[0], in[1]);
    struct still_film f;
    const double target = 0.95 * still_steady_rate(&w);
    double last = 0.0;

    still_start(&f, false);
    still_pour(&f, &w);
    for (int i = 0; i < 4000; i++) {
        const double now = still_ammonia_rate(&f);
        if (now >= target)
            return 0.1 * (i - (now - target) / (now - last));
        last = now;
        if (still_grow(&f, 0.1) != 0)
            return NAN;
    }
    return NAN;
}
/* clang-format off */
#define T {"temperature_c", "", " degC"}
#define TAN {"tan_mg_l", "TAN ", " mg/L"}

static const struct outside_series series[] = {
    /* file, quantity, what, unit, inputs, value, moved; windows too wide to leave by a parameter
     * (a rate does not fall below zero) have none */
    {"film_law.csv", "zhu & chen", "clean film, rate over the law's", "", {T, TAN}, over_zhu_chen,
     "mu_aob"},
    {"film_law.csv", "maximum", "same law through the model's rates, largest", "g/m2/d", {T},
     law_maximum, "mu_aob"},
    {"film_law.csv", "half saturation", "same law through the model's rates, half-saturation",
     "mg/L", {T}, law_half_saturation, "k_tan"},
    {"film_law.csv", "minimum", "same law through the model's rates, least ammonia", "mg/L", {T},
     law_minimum, "b_aob"},
    {"film_law.csv", "rate", "clean film, rate", "g/m2/d", {T, TAN}, areal_rate, "mu_aob"},
    {"film_law.csv", "range", "clean film, rate", "g/m2/d", {T, TAN}, areal_rate, NULL},
    {"film_response.csv", "slope", "rise of the rate at 20 degC", "%/degC",
     {TAN, {"oxygen_mg_l", "O2 ", " mg/L"}}, slope_at_20, "theta_mu_aob"},
    {"film_response.csv", "cold", "rate long at 1 degC over that at 20 degC", "%", {TAN},
     cold_share, "theta_mu_aob"},
    {"film_response.csv", "best temperature", "temperature of the largest rate", "degC", {TAN},
     best_temperature, NULL},
    {"film_response.csv", "limiting oxygen", "oxygen that halves the rate", "mg/L", {TAN},
     limiting_oxygen, NULL},
    {"film_response.csv", "organics", "loss by dissolved organics", "%",
     {TAN, {"organics_mg_l", "organics ", " mgCOD/L"}}, loss_by_organics, "l_overlay"},
    {"film_response.csv", "much organics", "loss by dissolved organics", "%",
     {TAN, {"organics_mg_l", "organics ", " mgCOD/L"}}, loss_by_organics, NULL},
    {"film_response.csv", "alkalinity", "rate at once over that at 150 mg/L as CaCO3", "",
     {{"alkalinity_mg_l", "alkalinity ", " mg/L"}}, at_alkalinity, NULL},
    {"film_response.csv", "acid", "rate over that at the best pH", "%", {{"ph", "pH ", ""}}, at_ph,
     NULL},
    {"film_response.csv", "half ph", "pH that halves the rate", "", {{0}}, half_ph, "ph_lo_aob"},
    {"film_response.csv", "ph slope", "rise of the rate from pH 5 to 9, of the best", "%/pH", {{0}},
     ph_slope, NULL},
    {"film_response.csv", "best ph", "pH of the largest rate", "", {{0}}, best_ph, NULL},
    {"film_response.csv", "nh3", "nitrite oxidation over that without NH3", "%",
     {{"nh3_mg_l", "", " mg/L NH3-N"}}, nitrite_at_nh3, "k_fa"},
    {"film_response.csv", "hungry decay A", "decay of ammonia oxidisers, starved", "1/d",
     {{"days", "", " d"}}, hungry_decay_a, "b_aob"},
    {"film_response.csv", "hungry decay N", "decay of nitrite oxidisers, starved", "1/d",
     {{"days", "", " d"}}, hungry_decay_n, "b_nob"},
    {"film_response.csv", "recovery A", "95 % of ammonia oxidation back after hunger", "d",
     {{"days", "", " d"}}, recovery_a, "b_aob"},
    {"film_response.csv", "recovery N", "nitrite oxidation after as long fed as starved", "%",
     {{"days", "", " d"}}, nitrite_back, NULL},
    {"film_response.csv", "growth", "new film, 95 % of its ammonia oxidation", "d", {T, TAN},
     days_to_grow, "mu_aob"},
};
/* clang-format on */

const struct outside_group outside_film = {
    "Film alone",
    series,
    sizeof series / sizeof series[0],
};
