/* Judges the tank's water by the limits as samples come in, in one lane or many (lanes.h). Nothing is
 * stored but the windows of the running means: a run of any length needs the same memory. verdict.h
 * says what is judged. */
#ifndef TL_RESULT_VERDICT_KERNEL_H
#define TL_RESULT_VERDICT_KERNEL_H

#include "derived.h"
#include "limits_kernel.h"
#include "spread.h"
#include "towerloop/verdict.h"
#include "water_kernel.h"
#include "window.h"

#define TL_HOUR_D  (1.0 / 24.0)
#define TL_MONTH_D 30.0

/* So much worse than the last hour's mean, what has come since a moment within it counts by itself at the
 * run's end: a dose in the last minutes does, a slow rise does not. Judgement. */
#define TL_END_WORSE 0.1

/* The channels of the three windows. */
enum hour_channel { H_NH3, H_TAN, H_TAN_RATIO, H_NO2, H_CL, H_ALK, H_CO2, H_CHLORINE, H_CHANNELS };
enum day_channel { D_NO3, D_CHANNELS };
enum month_channel { M_TAN, M_TAN_RATIO, M_CHANNELS };
_Static_assert(H_CHANNELS <= TL_WINDOW_CHANNELS, "the hour has too many channels");

/* What is remembered of one limit: the fields of struct tl_limit_verdict, and more. */
struct tl_track {
    real caution, danger, worst, worst_d, hours_caution, hours_danger, first_breach_d;
    real grade; /* enum tl_grade */
    real worst_score;
    bool judged;
    double last_t; /* end of the last judged stretch; NAN before the first */
};

struct tl_judging {
    struct lane_limits limits;
    struct tl_window hour, day, month;
    struct tl_spread in_hour, in_day; /* of the temperature */
    real still_degC;                  /* see `still` */
    struct tl_track track[TL_NLIMIT];
    /* of the water's temperature; the caller keeps them */
    struct lane_carbonate k;
    struct lane_epa_warmth epa;
    real ready_from; /* NAN while ammonia or nitrite is too high */
    /* pH between two midnights */
    real ph_min, ph_max, ph_turn_d, swing_breach_d;
    double midnight; /* start of the present day */
    double day_from; /* first sample of the present day */
    double end_d;
    double last_t;
    double hours_empty;
    double occupied_from_d;
    bool still;    /* the temperature has stayed at still_degC, within its limits */
    bool started;  /* a sample was added */
    bool occupied; /* at the last sample */
};

/* Values below the limit are the bad ones. */
static inline bool tl_limit_below(enum tl_limit_id id)
{
    return id == TL_LIMIT_O2 || id == TL_LIMIT_PH_LOW || id == TL_LIMIT_ALK || id == TL_LIMIT_COLD;
}

/* Comparisons with NAN are false: no limit, no breach. */
static inline mask lane_beyond(real value, real limit, bool below)
{
    if (below)
        return value < limit;
    return value > limit;
}

/* All but the limits, for a run of `length_d`. The windows must be free. */
static inline void tl_judging_begin(struct tl_judging *j, double length_d)
{
    const real none = lane_all(NAN);

    j->end_d = length_d; /* until the first sample says when that begins */
    tl_window_init(&j->hour, TL_HOUR_D, H_CHANNELS);
    tl_window_init(&j->day, 1.0, D_CHANNELS);
    tl_window_init(&j->month, TL_MONTH_D, M_CHANNELS);
    tl_spread_init(&j->in_hour, TL_HOUR_D, 12);
    tl_spread_init(&j->in_day, 1.0, 48);
    for (size_t i = 0; i < TL_NLIMIT; i++)
        j->track[i] = (struct tl_track){.caution = none,
                                        .danger = none,
                                        .worst = none,
                                        .worst_d = none,
                                        .first_breach_d = none,
                                        .last_t = NAN};
    j->ready_from = none;
    j->occupied_from_d = NAN;
}

static inline void tl_judging_free(struct tl_judging *j)
{
    tl_window_free(&j->hour);
    tl_window_free(&j->day);
    tl_window_free(&j->month);
}

/* One judged value at `t`, standing for the `hours` before it. `caution` and `danger` are what
 * applies at this moment (NAN: none). */
static inline void judge(struct tl_judging *j, enum tl_limit_id id, real t, double hours,
                         real value, real caution, real danger, real breach_t)
{
    struct tl_track *k = &j->track[id];
    const bool below = tl_limit_below(id);

    /* where the limit moves, the worst moment is the one with the highest share of it */
    const real limit = lane_select(lane_nan(danger), caution, danger);
    const real score = below ? -value : lane_select(limit > 0, value / limit, value);
    const mask worse = lane_every(!k->judged) | (score > k->worst_score);
    if (lane_any(worse)) {
        k->worst_score = lane_select(worse, score, k->worst_score);
        k->worst = lane_select(worse, value, k->worst);
        k->worst_d = lane_select(worse, t, k->worst_d);
        k->caution = lane_select(worse, caution, k->caution);
        k->danger = lane_select(worse, danger, k->danger);
    }
    k->judged = true;

    const mask harm = lane_beyond(value, danger, below);
    const mask breach = harm | lane_beyond(value, caution, below);
    if (lane_any(breach)) {
        const real grade = lane_select(harm, lane_all(TL_DANGER), lane_all(TL_CAUTION));
        k->hours_caution = lane_select(breach, k->hours_caution + hours, k->hours_caution);
        k->hours_danger = lane_select(harm, k->hours_danger + hours, k->hours_danger);
        k->first_breach_d =
            lane_select(breach & lane_nan(k->first_breach_d), breach_t, k->first_breach_d);
        k->grade = lane_select(breach & (grade > k->grade), grade, k->grade);
    }
}

/* A value whose time counts from the last one judged, or for `window_d` at the first. */
static inline void judge_running(struct tl_judging *j, enum tl_limit_id id, double t,
                                 double window_d, real value, real caution, real danger)
{
    struct tl_track *k = &j->track[id];
    const double since = isnan(k->last_t) ? window_d : t - k->last_t;
    judge(j, id, lane_all(t), 24.0 * since, value, caution, danger, lane_all(t));
    k->last_t = t;
}

static inline void judge_plain(struct tl_judging *j, enum tl_limit_id id, double t, double window_d,
                               real value, const struct lane_limit_pair *pair)
{
    judge_running(j, id, t, window_d, value, pair->caution, pair->danger);
}

/* The criterion that mean ammonia has reached to the degree that the mean of ammonia/criterion says;
 * the present criterion while there is no ammonia at all. */
static inline real effective_criterion(real mean_tan, real mean_ratio, real criterion_now)
{
    return lane_select((mean_ratio > 0) & (mean_tan > 0), mean_tan / mean_ratio, criterion_now);
}

static inline bool judging_ends(const struct tl_judging *j, double t)
{
    return t >= j->end_d - TL_WINDOW_SLACK_D;
}

/* The last sample of the run: of an hour that holds a jump, only the time since then counts, as all that
 * follows would be like it. The worst of the means since each of the hour's samples, the last value too. */
static inline void take_end(const struct tl_window *w, real mean[H_CHANNELS])
{
    real worst[H_CHANNELS], area[H_CHANNELS];
    double span = 0;
    for (size_t c = 0; c < H_CHANNELS; c++) {
        worst[c] = w->last[c];
        area[c] = lane_all(0);
    }
    for (size_t i = w->count; i-- > 0;) {
        const size_t at = tl_window_place(w, i);
        span += w->piece[at];
        for (size_t c = 0; c < H_CHANNELS; c++) {
            area[c] += w->area[at * H_CHANNELS + c];
            const real since = area[c] / span;
            worst[c] = c == H_ALK ? lane_min(worst[c], since) : lane_max(worst[c], since);
        }
    }
    for (size_t c = 0; c < H_CHANNELS; c++) {
        const mask worse = c == H_ALK ? worst[c] < (1 - TL_END_WORSE) * mean[c]
                                      : worst[c] > (1 + TL_END_WORSE) * mean[c];
        mean[c] = lane_select(worse, worst[c], mean[c]);
    }
}

static inline void judge_hour(struct tl_judging *j, double t, real acute_now)
{
    const struct lane_limits *l = &j->limits;
    const double span = j->hour.span;
    real mean[H_CHANNELS];
    for (size_t c = 0; c < H_CHANNELS; c++)
        mean[c] = tl_window_mean(&j->hour, c);
    if (judging_ends(j, t))
        take_end(&j->hour, mean);

    judge_plain(j, TL_LIMIT_NH3, t, span, mean[H_NH3], &l->nh3);

    const real acute =
        lane_select(lane_nan(l->tan_danger),
                    effective_criterion(mean[H_TAN], mean[H_TAN_RATIO], acute_now), l->tan_danger);
    judge_running(j, TL_LIMIT_TAN_ACUTE, t, span, mean[H_TAN], lane_all(NAN), acute);

    judge_running(j, TL_LIMIT_NO2, t, span, mean[H_NO2], l->no2.caution,
                  lane_nitrite_danger(l, mean[H_CL]));

    const struct lane_limit_pair alk = {l->alk.caution * TL_CACO3_G_PER_EQ,
                                        l->alk.danger * TL_CACO3_G_PER_EQ};
    judge_plain(j, TL_LIMIT_ALK, t, span, mean[H_ALK] * TL_CACO3_G_PER_EQ, &alk);
    judge_plain(j, TL_LIMIT_CO2, t, span, mean[H_CO2], &l->co2);
    judge_plain(j, TL_LIMIT_CHLORINE, t, span, mean[H_CHLORINE], &l->chlorine);
    judge_plain(j, TL_LIMIT_CHLORIDE, t, span, mean[H_CL], &l->chloride);
}

/* The swing of the day that ends: judged once, the whole day counts. */
static inline void close_day(struct tl_judging *j, double end)
{
    const struct lane_limit_pair *pair = &j->limits.ph_swing;
    const real breach = lane_select(lane_nan(j->swing_breach_d), j->ph_turn_d, j->swing_breach_d);
    judge(j, TL_LIMIT_PH_SWING, j->ph_turn_d, 24.0 * (end - j->day_from), j->ph_max - j->ph_min,
          pair->caution, pair->danger, breach);
}

static inline void follow_swing(struct tl_judging *j, double t, real ph)
{
    const double midnight = floor(t + TL_WINDOW_SLACK_D);
    if (!j->occupied || midnight > j->midnight) {
        if (j->occupied)
            close_day(j, midnight);
        j->day_from = j->occupied ? midnight : t;
        j->midnight = midnight;
        j->ph_min = j->ph_max = ph;
        j->ph_turn_d = lane_all(t);
        j->swing_breach_d = lane_all(NAN);
        return;
    }
    const mask turn = (ph < j->ph_min) | (ph > j->ph_max);
    if (lane_any(turn)) {
        j->ph_min = lane_select(turn, lane_min(j->ph_min, ph), j->ph_min);
        j->ph_max = lane_select(turn, lane_max(j->ph_max, ph), j->ph_max);
        j->ph_turn_d = lane_select(turn, lane_all(t), j->ph_turn_d);
        const real swing = j->ph_max - j->ph_min;
        const struct lane_limit_pair *l = &j->limits.ph_swing;
        const mask breach =
            turn & lane_nan(j->swing_breach_d) & ((swing > l->caution) | (swing > l->danger));
        j->swing_breach_d = lane_select(breach, lane_all(t), j->swing_breach_d);
    }
}

/* The first fish are in: what lies before is not theirs. */
static inline void begin_stretch(struct tl_judging *j, double t)
{
    const double left = j->end_d - t;
    tl_window_restart(&j->hour, fmin(TL_HOUR_D, left));
    tl_window_restart(&j->day, fmin(1.0, left));
    tl_window_restart(&j->month, fmin(TL_MONTH_D, left));
    tl_spread_restart(&j->in_hour);
    tl_spread_restart(&j->in_day);
    j->still = false;
    for (size_t i = 0; i < TL_NLIMIT; i++)
        j->track[i].last_t = NAN;
    if (isnan(j->occupied_from_d))
        j->occupied_from_d = t;
}

/* Water that has kept its temperature for a day, within the limits, is not looked at again until it
 * changes: most loops are kept at one temperature. */
static inline void judge_temperature(struct tl_judging *j, double t, real degC)
{
    const struct lane_limits *l = &j->limits;
    const bool same = j->still && !lane_any(lane_not(degC == j->still_degC));
    if (same) {
        for (int i = TL_LIMIT_COLD; i <= TL_LIMIT_DAY_CHANGE; i++)
            j->track[i].last_t = t;
        return;
    }
    if (j->still) {
        (void)tl_spread_add(&j->in_hour, j->track[TL_LIMIT_COLD].last_t, j->still_degC);
        (void)tl_spread_add(&j->in_day, j->track[TL_LIMIT_COLD].last_t, j->still_degC);
    }
    const real in_hour = tl_spread_add(&j->in_hour, t, degC);
    const real in_day = tl_spread_add(&j->in_day, t, degC);
    judge_plain(j, TL_LIMIT_COLD, t, 0, degC, &l->cold);
    judge_plain(j, TL_LIMIT_WARM, t, 0, degC, &l->warm);
    judge_plain(j, TL_LIMIT_HOUR_CHANGE, t, 0, in_hour, &l->hour_change);
    judge_plain(j, TL_LIMIT_DAY_CHANGE, t, 0, in_day, &l->day_change);
    const mask out = (degC < l->cold.caution) | (degC < l->cold.danger) | (degC > l->warm.caution) |
                     (degC > l->warm.danger) | (in_day > 0);
    j->still = !lane_any(out);
    j->still_degC = degC;
}

/* One sample of an occupied tank against the limits. */
static inline int judge_sample(struct tl_judging *j, double t, real degC, const real *water, real h,
                               real ph)
{
    const struct lane_limits *l = &j->limits;
    const real tan = water[TL_TAN];
    real acute;
    real chronic;
    lane_epa_ammonia_at(&j->epa, h, &acute, &chronic);

    real hour[H_CHANNELS], day[D_CHANNELS], month[M_CHANNELS];
    hour[H_NH3] = tan * j->k.ka / (j->k.ka + h);
    hour[H_TAN] = tan;
    hour[H_TAN_RATIO] = tan / acute;
    hour[H_NO2] = water[TL_NO2];
    hour[H_CL] = water[TL_CL];
    hour[H_ALK] = water[TL_ALK];
    hour[H_CO2] = TL_CO2_G_PER_MOL * lane_co2_mol_m3(&j->k, h, water[TL_TIC]);
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
    judge_temperature(j, t, degC);
    /* fish that come with the last sample have no more than that */
    const bool ends = judging_ends(j, t);
    if (ends || tl_window_full(&j->hour))
        judge_hour(j, t, acute);
    if (ends || tl_window_full(&j->day))
        judge_plain(j, TL_LIMIT_NO3, t, j->day.span, tl_window_mean(&j->day, D_NO3), &l->no3);
    if (ends || tl_window_full(&j->month)) {
        const real mean = tl_window_mean(&j->month, M_TAN);
        const real ratio = tl_window_mean(&j->month, M_TAN_RATIO);
        const real criterion = lane_select(
            lane_nan(l->tan_caution), effective_criterion(mean, ratio, chronic), l->tan_caution);
        judge_running(j, TL_LIMIT_TAN_CHRONIC, t, j->month.span, mean, criterion, lane_all(NAN));
    }

    return TL_OK;
}

/* A sample; see tl_judge_add(). [H+] (mol/L) and pH belong together; all lanes have animals or none. */
static inline int tl_judging_add(struct tl_judging *j, double t, real degC, const real *water,
                                 real h, real ph, bool occupied)
{
    const struct lane_limits *l = &j->limits;
    if (!j->started)
        j->end_d += t;
    else if (!j->occupied)
        j->hours_empty += 24.0 * (t - j->last_t);

    if (occupied) {
        if (!j->occupied)
            begin_stretch(j, t);
        const int status = judge_sample(j, t, degC, water, h, ph);
        if (status)
            return status;
    } else if (j->occupied) {
        close_day(j, t);
    }
    j->occupied = occupied;

    const mask ready = (water[TL_TAN] <= l->ready_tan) & (water[TL_NO2] <= l->ready_no2);
    const real from = lane_select(lane_nan(j->ready_from), lane_all(t), j->ready_from);
    j->ready_from = lane_select(ready, from, lane_all(NAN));

    j->started = true;
    j->last_t = t;
    return TL_OK;
}

/* The end of the last day; nothing can be added afterwards. */
static inline void tl_judging_close(struct tl_judging *j)
{
    if (j->occupied)
        close_day(j, j->last_t);
    j->occupied = false;
}

/* The verdict on one lane once it is closed. */
static inline void tl_judging_read(const struct tl_judging *j, size_t lane, struct tl_verdict *out)
{
#define NAMES(id, name_, unit_) [id] = {.name = name_, .unit = unit_},
    static const struct {
        const char *name, *unit;
    } of[TL_NLIMIT] = {TL_LIMIT_LIST(NAMES)};
#undef NAMES

    memset(out, 0, sizeof *out);
    out->hours_empty = j->hours_empty;
    out->occupied_from_d = j->occupied_from_d;
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const struct tl_track *k = &j->track[i];
        struct tl_limit_verdict *v = &out->limit[i];
        *v = (struct tl_limit_verdict){
            .name = of[i].name,
            .unit = of[i].unit,
            .below = tl_limit_below((enum tl_limit_id)i),
            .judged = k->judged,
            .caution = lane_value(&k->caution, lane),
            .danger = lane_value(&k->danger, lane),
            .worst = lane_value(&k->worst, lane),
            .worst_d = lane_value(&k->worst_d, lane),
            .hours_caution = lane_value(&k->hours_caution, lane),
            .hours_danger = lane_value(&k->hours_danger, lane),
            .first_breach_d = lane_value(&k->first_breach_d, lane),
            .grade = (enum tl_grade)lane_value(&k->grade, lane),
        };
        if (v->grade > out->grade)
            out->grade = v->grade;
    }
    const double ready = lane_value(&j->ready_from, lane);
    const bool long_enough = j->last_t - ready >= TL_READY_DAYS - TL_WINDOW_SLACK_D;
    out->low_from_d = out->filter_ready_d = long_enough ? ready : NAN;
}

#endif
