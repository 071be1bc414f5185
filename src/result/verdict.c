/* Judges the tank's water by the limits as samples come in. Nothing is stored but the windows of the
 * running means: a run of any length needs the same memory. */
#include "towerloop/verdict.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "derived.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"
#include "window.h"

#define HOUR_D  (1.0 / 24.0)
#define MONTH_D 30.0
static const double time_slack = 1e-9; /* days */

/* The channels of the three windows. */
enum hour_channel { H_NH3, H_TAN, H_TAN_RATIO, H_NO2, H_CL, H_ALK, H_CO2, H_CHLORINE, H_CHANNELS };
enum day_channel { D_NO3, D_CHANNELS };
enum month_channel { M_TAN, M_TAN_RATIO, M_CHANNELS };
_Static_assert(H_CHANNELS <= TL_WINDOW_CHANNELS, "the hour has too many channels");

/* What is remembered of one limit besides its verdict. */
struct track {
    double worst_score;
    double last_t; /* end of the last judged stretch; NAN before the first */
};

struct tl_judge {
    struct tl_limits limits;
    struct tl_window hour, day, month;
    struct tl_limit_verdict verdict[TL_NLIMIT];
    struct track track[TL_NLIMIT];
    bool started;  /* a sample was added */
    bool occupied; /* at the last sample */
    double end_d;
    double last_t;
    double hours_empty;
    double occupied_from_d;
    double k_degC; /* temperature the constants below belong to */
    struct tl_carbonate k;
    struct tl_epa_warmth epa;
    /* pH between two midnights */
    double midnight; /* start of the present day */
    double day_from; /* first sample of the present day */
    double ph_min, ph_max, ph_turn_d, swing_breach_d;
    double ready_from; /* NAN while ammonia or nitrite is too high */
};

const char *tl_grade_text(enum tl_grade g)
{
    static const char *const text[] = {"within limits", "caution", "danger"};
    return text[g];
}

enum tl_grade tl_grade_of(double value, double caution, double danger, bool below)
{
    const double sign = below ? -1.0 : 1.0;
    /* comparisons with NAN are false: no limit, no breach */
    if (sign * (value - danger) > 0)
        return TL_DANGER;
    return sign * (value - caution) > 0 ? TL_CAUTION : TL_WITHIN;
}

static void init_limit(struct tl_judge *j, enum tl_limit_id id, const char *name, const char *unit)
{
    struct tl_limit_verdict *v = &j->verdict[id];
    v->name = name;
    v->unit = unit;
    v->below = id == TL_LIMIT_O2 || id == TL_LIMIT_PH_LOW || id == TL_LIMIT_ALK;
    v->caution = v->danger = NAN;
    v->worst = v->worst_d = v->first_breach_d = NAN;
    j->track[id].last_t = NAN;
}

int tl_judge_new(const struct tl_limits *limits, double length_d, struct tl_judge **out)
{
    struct tl_judge *j = calloc(1, sizeof *j);
    if (!j)
        return TL_E_MEMORY;
    j->limits = *limits;
    j->end_d = length_d; /* until the first sample says when that begins */
    tl_window_init(&j->hour, HOUR_D, H_CHANNELS);
    tl_window_init(&j->day, 1.0, D_CHANNELS);
    tl_window_init(&j->month, MONTH_D, M_CHANNELS);
#define INIT(id, name, unit) init_limit(j, id, name, unit);
    TL_LIMIT_LIST(INIT)
#undef INIT

    j->k_degC = NAN;
    j->ready_from = NAN;
    j->occupied_from_d = NAN;
    *out = j;
    return TL_OK;
}

/* One judged value at `t`, standing for the `hours` before it. `caution` and `danger` are what
 * applies at this moment (NAN: none). */
static void judge(struct tl_judge *j, enum tl_limit_id id, double t, double hours, double value,
                  double caution, double danger, double breach_t)
{
    struct tl_limit_verdict *v = &j->verdict[id];
    struct track *k = &j->track[id];
    const enum tl_grade grade = tl_grade_of(value, caution, danger, v->below);

    /* where the limit moves, the worst moment is the one with the highest share of it */
    double limit = isnan(danger) ? caution : danger;
    double score = v->below ? -value : limit > 0 ? value / limit : value;
    if (!v->judged || score > k->worst_score) {
        k->worst_score = score;
        v->worst = value;
        v->worst_d = t;
        v->caution = caution;
        v->danger = danger;
    }
    v->judged = true;

    if (grade > TL_WITHIN) {
        v->hours_caution += hours;
        if (grade == TL_DANGER)
            v->hours_danger += hours;
        if (isnan(v->first_breach_d))
            v->first_breach_d = breach_t;
        if (grade > v->grade)
            v->grade = grade;
    }
}

/* A value whose time counts from the last one judged, or for `window_d` at the first. */
static void judge_running(struct tl_judge *j, enum tl_limit_id id, double t, double window_d,
                          double value, double caution, double danger)
{
    struct track *k = &j->track[id];
    double since = isnan(k->last_t) ? window_d : t - k->last_t;
    judge(j, id, t, 24.0 * since, value, caution, danger, t);
    k->last_t = t;
}

static void judge_plain(struct tl_judge *j, enum tl_limit_id id, double t, double window_d,
                        double value, const struct tl_limit_pair *pair)
{
    judge_running(j, id, t, window_d, value, pair->caution, pair->danger);
}

/* The criterion that mean ammonia has reached to the degree that the mean of ammonia/criterion says;
 * the present criterion while there is no ammonia at all. */
static double effective_criterion(double mean_tan, double mean_ratio, double criterion_now)
{
    return mean_ratio > 0 && mean_tan > 0 ? mean_tan / mean_ratio : criterion_now;
}

static void judge_hour(struct tl_judge *j, double t, double acute_now)
{
    const struct tl_limits *l = &j->limits;
    const double span = j->hour.span;
    double mean[H_CHANNELS];
    for (size_t c = 0; c < H_CHANNELS; c++)
        mean[c] = tl_window_mean(&j->hour, c);

    judge_plain(j, TL_LIMIT_NH3, t, span, mean[H_NH3], &l->nh3);

    double acute = isnan(l->tan_danger)
                       ? effective_criterion(mean[H_TAN], mean[H_TAN_RATIO], acute_now)
                       : l->tan_danger;
    judge_running(j, TL_LIMIT_TAN_ACUTE, t, span, mean[H_TAN], NAN, acute);

    judge_running(j, TL_LIMIT_NO2, t, span, mean[H_NO2], l->no2.caution,
                  tl_nitrite_danger(l, mean[H_CL]));

    const struct tl_limit_pair alk = {l->alk.caution * TL_CACO3_G_PER_EQ,
                                      l->alk.danger * TL_CACO3_G_PER_EQ};
    judge_plain(j, TL_LIMIT_ALK, t, span, mean[H_ALK] * TL_CACO3_G_PER_EQ, &alk);
    judge_plain(j, TL_LIMIT_CO2, t, span, mean[H_CO2], &l->co2);
    judge_plain(j, TL_LIMIT_CHLORINE, t, span, mean[H_CHLORINE], &l->chlorine);
}

/* The swing of the day that ends: judged once, the whole day counts. */
static void close_day(struct tl_judge *j, double end)
{
    const struct tl_limit_pair *pair = &j->limits.ph_swing;
    double breach = isnan(j->swing_breach_d) ? j->ph_turn_d : j->swing_breach_d;
    judge(j, TL_LIMIT_PH_SWING, j->ph_turn_d, 24.0 * (end - j->day_from), j->ph_max - j->ph_min,
          pair->caution, pair->danger, breach);
}

static void follow_swing(struct tl_judge *j, double t, double ph)
{
    double midnight = floor(t + time_slack);
    if (!j->occupied || midnight > j->midnight) {
        if (j->occupied)
            close_day(j, midnight);
        j->day_from = j->occupied ? midnight : t;
        j->midnight = midnight;
        j->ph_min = j->ph_max = ph;
        j->ph_turn_d = t;
        j->swing_breach_d = NAN;
        return;
    }
    if (ph < j->ph_min || ph > j->ph_max) {
        j->ph_min = fmin(j->ph_min, ph);
        j->ph_max = fmax(j->ph_max, ph);
        j->ph_turn_d = t;
        double swing = j->ph_max - j->ph_min;
        const struct tl_limit_pair *l = &j->limits.ph_swing;
        if (isnan(j->swing_breach_d) && (swing > l->caution || swing > l->danger))
            j->swing_breach_d = t;
    }
}

/* The first fish are in: what lies before is not theirs. */
static void begin_stretch(struct tl_judge *j, double t)
{
    const double left = j->end_d - t;
    tl_window_restart(&j->hour, fmin(HOUR_D, left));
    tl_window_restart(&j->day, fmin(1.0, left));
    tl_window_restart(&j->month, fmin(MONTH_D, left));
    for (size_t i = 0; i < TL_NLIMIT; i++)
        j->track[i].last_t = NAN;
    if (isnan(j->occupied_from_d))
        j->occupied_from_d = t;
}

/* One sample of an occupied tank against the limits. */
static int judge_sample(struct tl_judge *j, double t, double temperature_degC,
                        const double water[TL_NWATER], double ph)
{
    const struct tl_limits *l = &j->limits;
    if (!(temperature_degC == j->k_degC)) {
        tl_carbonate_constants(temperature_degC, &j->k);
        tl_epa_ammonia_warmth(temperature_degC, &j->epa);
        j->k_degC = temperature_degC;
    }
    const double tan = water[TL_TAN];
    const double h = exp(-M_LN10 * ph);
    double acute;
    double chronic;
    tl_epa_ammonia_at(&j->epa, h, &acute, &chronic);

    double hour[H_CHANNELS], day[D_CHANNELS], month[M_CHANNELS];
    hour[H_NH3] = tan * j->k.ka / (j->k.ka + h);
    hour[H_TAN] = tan;
    hour[H_TAN_RATIO] = tan / acute;
    hour[H_NO2] = water[TL_NO2];
    hour[H_CL] = water[TL_CL];
    hour[H_ALK] = water[TL_ALK];
    hour[H_CO2] = TL_CO2_G_PER_MOL * tl_co2_mol_m3(&j->k, h, water[TL_TIC]);
    hour[H_CHLORINE] = water[TL_HOCL];
    day[D_NO3] = water[TL_NO3];
    month[M_TAN] = tan;
    month[M_TAN_RATIO] = tan / chronic;
    if (tl_window_add(&j->hour, t, hour) || tl_window_add(&j->day, t, day) ||
        tl_window_add(&j->month, t, month))
        return TL_E_MEMORY;

    judge_plain(j, TL_LIMIT_O2, t, 0, water[TL_O2], &l->o2);
    judge_plain(j, TL_LIMIT_PH_LOW, t, 0, ph, &l->ph_low);
    judge_plain(j, TL_LIMIT_PH_HIGH, t, 0, ph, &l->ph_high);
    follow_swing(j, t, ph);
    if (tl_window_full(&j->hour))
        judge_hour(j, t, acute);
    if (tl_window_full(&j->day))
        judge_plain(j, TL_LIMIT_NO3, t, j->day.span, tl_window_mean(&j->day, D_NO3), &l->no3);
    if (tl_window_full(&j->month)) {
        double mean = tl_window_mean(&j->month, M_TAN);
        double criterion =
            isnan(l->tan_caution)
                ? effective_criterion(mean, tl_window_mean(&j->month, M_TAN_RATIO), chronic)
                : l->tan_caution;
        judge_running(j, TL_LIMIT_TAN_CHRONIC, t, j->month.span, mean, criterion, NAN);
    }

    return TL_OK;
}

int tl_judge_add(struct tl_judge *j, double t, double temperature_degC,
                 const double water[TL_NWATER], double ph, bool occupied)
{
    const struct tl_limits *l = &j->limits;
    if (!j->started)
        j->end_d += t;
    else if (!j->occupied)
        j->hours_empty += 24.0 * (t - j->last_t);

    if (occupied) {
        if (!j->occupied)
            begin_stretch(j, t);
        int status = judge_sample(j, t, temperature_degC, water, ph);
        if (status)
            return status;
    } else if (j->occupied) {
        close_day(j, t);
    }
    j->occupied = occupied;

    bool ready = water[TL_TAN] <= l->ready_tan && water[TL_NO2] <= l->ready_no2;
    if (!ready)
        j->ready_from = NAN;
    else if (isnan(j->ready_from))
        j->ready_from = t;

    j->started = true;
    j->last_t = t;
    return TL_OK;
}

void tl_judge_finish(struct tl_judge *j, struct tl_verdict *out)
{
    memset(out, 0, sizeof *out);
    if (j->occupied)
        close_day(j, j->last_t);
    out->hours_empty = j->hours_empty;
    out->occupied_from_d = j->occupied_from_d;
    memcpy(out->limit, j->verdict, sizeof out->limit);
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        if (out->limit[i].grade > out->grade)
            out->grade = out->limit[i].grade;
    }
    bool long_enough = j->last_t - j->ready_from >= TL_READY_DAYS - time_slack;
    out->filter_ready_d = long_enough ? j->ready_from : NAN;
}

void tl_judge_free(struct tl_judge *j)
{
    if (!j)
        return;
    tl_window_free(&j->hour);
    tl_window_free(&j->day);
    tl_window_free(&j->month);
    free(j);
}
