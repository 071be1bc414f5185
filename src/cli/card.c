/* What stands on the emergency card: cautions, times, first steps, assumptions. */
#include <math.h>

#include "build_sheet.h"
#include "card_view.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

#define MINUTE_D     (1.0 / 1440)
#define SOON_D       0.05 /* no tenth of a day */
#define MUCH_OF_FILM 0.1  /* of what oxidises ammonia or nitrite; judgement */

enum { SHOWN = TL_ENDURE_SHOWN };

struct shown {
    char text[SHOWN];
};

static struct shown quantity(enum tl_dim dim, enum tl_unit_system units, double base)
{
    struct shown s;
    tl_display_text(dim, units, base, 3, s.text, sizeof s.text);
    return s;
}

static struct shown rounded(double value, int digits)
{
    struct shown s;
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, digits, s.text, sizeof s.text);
    return s;
}

static struct shown span(double minutes)
{
    struct shown s;
    tl_endure_span(s.text, minutes);
    return s;
}

struct tl_text *tl_card_row(struct tl_card *c, enum tl_card_part_id id)
{
    struct tl_card_part *p = &c->part[id];
    return p->cell[p->rows++];
}

static bool has_pump(const struct tl_endure_study *s)
{
    return s->when.flow_m3_d > 0;
}

/* --- head ----------------------------------------------------------------------------------------- */

static void add_loop(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    const struct tl_setup *p = &s->scenario->setup;
    c->title = s->scenario->title;
    tl_text_addf(&c->loop, "Tank %s, settling chamber %s, tower of %d tray%s, %s of fish.",
                 quantity(TL_DIM_VOLUME, units, p->tank.volume_m3).text,
                 quantity(TL_DIM_VOLUME, units, p->chamber.volume_m3).text, p->tower.trays,
                 p->tower.trays == 1 ? "" : "s",
                 quantity(TL_DIM_MASS, units, 1000 * s->when.fish_kg).text);
}

static void add_care(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    struct tl_build_sheet sheet;
    tl_build_sheet_of(s->scenario, &sheet);
    tl_text_add(tl_card_row(c, TL_CARD_CARE),
                "Mains beside water kills. Switch off at the board first; then touch pump, aerator "
                "or water.");
    tl_text_addf(tl_card_row(c, TL_CARD_CARE),
                 "The tower is %s high and weighs up to %s with clogged drains. It can topple: "
                 "never climb it.",
                 quantity(TL_DIM_LENGTH, units, sheet.height_m).text,
                 quantity(TL_DIM_MASS, units, 1000 * sheet.flooded_kg).text);
    tl_text_add(tl_card_row(c, TL_CARD_CARE),
                "Never run a combustion generator indoors or near a window: its fumes kill.");
}

/* --- first steps ---------------------------------------------------------------------------------- */

static void add_step(struct tl_card *c, const char *when, struct tl_text *what)
{
    struct tl_text *cell = tl_card_row(c, TL_CARD_STEPS);
    tl_text_addf(&cell[0], "%zu. %s", c->part[TL_CARD_STEPS].rows, when);
    tl_text_add_text(&cell[1], 0, what);
    tl_text_free(what);
}

/* Until when there has to be air: stress, or danger where that has no limit or never comes. */
static void air_by(const struct tl_endure_study *s, char when[SHOWN])
{
    const struct tl_card_times e = tl_card_times_of(s);
    const double minutes = isfinite(e.caution_min) ? e.caution_min : e.danger_min;
    if (e.unknown || isfinite(e.lost_before_d) || minutes < 1)
        (void)tl_format(when, SHOWN, "At once");
    else if (isfinite(minutes))
        (void)tl_format(when, SHOWN, "Before %s", span(minutes).text);
    else
        (void)tl_format(when, SHOWN, "To be safe");
}

static void step_air(const struct tl_endure_study *s, struct tl_card *c)
{
    const struct tl_endure_question *q = &s->question;
    const double g_h = tl_endure_need_g_h(s);
    const double watts = g_h / q->aeration_g_kwh * 1000;
    const struct shown outage = span(q->outage_d / MINUTE_D);
    struct tl_text t = {0};
    char when[SHOWN];

    air_by(s, when);
    if (isinf(g_h))
        tl_text_addf(&t, "Air, all there is: no aerator alone would do for %s. ", outage.text);
    else if (g_h > 0)
        tl_text_addf(&t,
                     "Start the emergency aerator: at least %s g/h of oxygen, %s W, %s Wh for "
                     "%s. ",
                     rounded(g_h, 3).text, rounded(watts, 2).text,
                     rounded(watts * 24 * q->outage_d, 3).text, outage.text);
    else
        tl_text_addf(&t,
                     "Start any aerator there is. Without it oxygen stays above danger for %s, as "
                     "calculated. ",
                     outage.text);
    tl_text_add(&t, "No aerator: lift water in buckets and let it fall back, on and on.*");
    add_step(c, when, &t);
}

static void step_feed(const struct tl_endure_study *s, struct tl_card *c)
{
    const struct tl_endured *none = &s->result[s->question.fails];
    const struct tl_endured *help = &s->result[TL_ENDURE_HELPS + TL_HELP_FEED];
    const double end = s->question.outage_d / MINUTE_D;
    const double gained = fmin(help->danger_min, end) - fmin(none->danger_min, end);
    struct tl_text t = {0};

    tl_text_add(&t, "Stop feeding.");
    if (isfinite(none->danger_min) && isnan(none->lost_before_d) && !*help->fault && gained >= 1)
        tl_text_addf(&t, " That puts danger off by %s%s.",
                     isinf(help->danger_min) ? "at least " : "", span(gained).text);
    tl_text_add(&t, " Leave the fish where they are.*");
    add_step(c, "At once", &t);
}

/* What is left of the film at a stage, of the hours that were tried at the one that leaves least. */
static double least_left(const struct tl_endure_study *s, int stage)
{
    const struct tl_endured *e = &s->result[TL_ENDURE_FILM];
    double least = fmin(e->stage_left[stage][0], e->stage_left[stage][1]);
    for (size_t i = 0; i < s->starts.n; i++)
        least = fmin(least, s->starts.start[i].stage_left[stage]); /* NAN counts as nothing */
    return least;
}

/* How long the film keeps most of what it is: the last of the stages before much is lost. */
static void step_media(const struct tl_endure_study *s, struct tl_card *c)
{
    struct tl_text t = {0};
    char when[SHOWN];
    int lasts = 0;

    if (s->question.fails == TL_FAILURE_AERATOR || s->question.fails == TL_FAILURE_HALF ||
        !has_pump(s) || isnan(least_left(s, 0)))
        return;
    while (lasts < TL_ENDURE_STAGES && least_left(s, lasts) > 1 - MUCH_OF_FILM)
        lasts++;
    const int shown = lasts < TL_ENDURE_STAGES ? lasts : TL_ENDURE_STAGES - 1;
    (void)tl_format(when, SHOWN, "Before %s",
                    span(tl_endure_stage_d[lasts > 0 ? lasts - 1 : 0] / MINUTE_D).text);
    tl_text_addf(&t,
                 "Keep the media moist: pour tank water over the trays from firm ground.* Without "
                 "water the filter loses %.0f %% in %s.",
                 100 * fmax(0, 1 - least_left(s, shown)),
                 span(tl_endure_stage_d[shown] / MINUTE_D).text);
    add_step(c, when, &t);
}

/* Frost and heat have an hour of their own. */
static void step_frost(const struct tl_endure_study *s, enum tl_unit_system units,
                       struct tl_card *c)
{
    struct tl_endure_frost f;
    const struct tl_worst_hour *when = tl_endure_coldest(s, &f);
    struct tl_text t = {0};
    if (!when)
        return;
    tl_endure_add_frost(&t, s, when, &f, units, "*");
    add_step(c,
             isfinite(f.ice_min) || f.limit == TL_LIMIT_COLD ? "In frost"
             : f.limit == TL_LIMIT_WARM                      ? "In heat"
                                                             : "As it warms or cools",
             &t);
}

/* --- when it is back ------------------------------------------------------------------------------ */

/* What follows, the worse of the hour of least oxygen and of the warmest. */
struct aftermath {
    const struct tl_endured *ammonia; /* where it is highest */
    const struct tl_endured *nitrite;
    double days; /* until all is as before; NAN: not to be told */
};

static double days_back(const struct tl_endured *e)
{
    return fmax(fmax(e->nh3_back_d, e->no2_back_d), e->o2_back_d);
}

static struct aftermath aftermath_of(const struct tl_endure_study *s)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const struct tl_endured *warm = &s->result[TL_ENDURE_AFTER];
    if (*warm->fault || isfinite(warm->lost_before_d))
        warm = e;
    const double days = days_back(e), days_warm = days_back(warm);
    return (struct aftermath){.ammonia = warm->peak_nh3 > e->peak_nh3 ? warm : e,
                              .nitrite = warm->peak_no2 > e->peak_no2 ? warm : e,
                              .days =
                                  isnan(days) || isnan(days_warm) ? NAN : fmax(days, days_warm)};
}

/* ": danger, as before it fails" */
static enum tl_grade add_grade(struct tl_text *t, const struct tl_endured_limit *a,
                               const struct tl_endured_limit *b)
{
    const double grade = fmax(a->grade, b->grade), before = fmax(a->before, b->before);
    if (!(grade > TL_WITHIN))
        return TL_WITHIN;
    tl_text_addf(t, " (%s%s)", tl_grade_text((enum tl_grade)grade),
                 before >= grade ? ", as before" : "");
    return (enum tl_grade)grade;
}

static void add_aftermath(struct tl_text *t, const struct tl_endure_study *s)
{
    const struct aftermath a = aftermath_of(s);
    const struct tl_endured_limit *ammonia = a.ammonia->limit, *nitrite = a.nitrite->limit;
    if (!isfinite(a.ammonia->peak_nh3) || !isfinite(a.nitrite->peak_no2))
        return;
    tl_text_addf(t, " Expect up to %s total ammonia at pH %.1f",
                 rounded(a.ammonia->nh3_tan, 2).text, a.ammonia->nh3_ph);
    const enum tl_grade worst = add_grade(t, &ammonia[TL_LIMIT_NH3], &ammonia[TL_LIMIT_TAN_ACUTE]);
    tl_text_addf(t, ", %s nitrite", rounded(a.nitrite->peak_no2, 2).text);
    const enum tl_grade other = add_grade(t, &nitrite[TL_LIMIT_NO2], &nitrite[TL_LIMIT_NO2]);
    tl_text_add(t, ", mg/L as N");
    if (a.days < SOON_D)
        tl_text_add(t, ", hardly more than before");
    else if (isfinite(a.days))
        tl_text_addf(t, "; as before after %.1f days", a.days);
    tl_text_add(t, ".");
    if (worst == TL_DANGER || other == TL_DANGER)
        tl_text_add(t, " Change water as below.");
}

/* At some hour that was tried the water is too cold for fish to be fed. */
static bool gets_cold(const struct tl_endure_study *s)
{
    for (size_t i = 0; i < s->starts.n; i++)
        if (s->starts.start[i].when.temperature_degC < TL_TOO_COLD_TO_FEED_DEGC)
            return true;
    return false;
}

static void step_back(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    struct tl_text t = {0};

    if (has_pump(s) && s->question.fails != TL_FAILURE_AERATOR)
        tl_text_add(&t,
                    "Drain what stood in chamber, pipes and media to waste, then start slowly.* ");
    tl_text_add(&t, "Test ammonia and nitrite after 4 h, then daily.*");
    add_aftermath(&t, s);
    if (gets_cold(s))
        tl_text_addf(&t, " Feed nothing while the water is below %s.",
                     quantity(TL_DIM_TEMPERATURE, units, TL_TOO_COLD_TO_FEED_DEGC).text);
    if (!(s->when.temperature_degC < TL_TOO_COLD_TO_FEED_DEGC))
        tl_text_add(&t, " Feed again, little, after two good tests a day apart.");
    add_step(c, "When it is back", &t);
}

static void add_steps(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    struct tl_text t = {0};
    tl_text_add(&t,
                "Board off, then look: plug, fuse, hose, water level. A switch that trips again "
                "stays off: electrician. Call the neighbour.*");
    add_step(c, "At once", &t);
    step_feed(s, c);
    step_air(s, c);
    step_media(s, c);
    step_frost(s, units, c);
    step_back(s, units, c);
}

/* --- assumptions ---------------------------------------------------------------------------------- */

/* A column that is of another hour: ", death at 14:00"; with its date where that is another one. */
static void add_other_hour(struct tl_text *t, const struct tl_endure_study *s, const char *column,
                           size_t start)
{
    const double at_d = s->starts.start[start].when.at_d;
    const struct tl_date d = tl_date_at(&s->scenario->start, at_d);
    if (at_d == s->when.at_d)
        return;
    tl_text_addf(t, ", %s ", column);
    if (floor(at_d) == floor(s->when.at_d))
        tl_text_addf(t, "at %02d:%02d", d.second / 3600, d.second / 60 % 60);
    else {
        tl_text_add(t, "on ");
        tl_endure_add_moment(t, s, at_d);
    }
}

/* What the other rows and the frost rest on, where there is more than one hour to choose from. */
static void add_tried(struct tl_text *t, const struct tl_endure_study *s)
{
    size_t tried = 0;
    for (size_t i = 0; i < s->starts.n; i++)
        tried += tl_endure_is_tried(&s->starts, i);
    if (s->starts.n < 2)
        return;
    if (tried < s->starts.n)
        tl_text_addf(
            t,
            " Other rows: the soonest of %zu of these hours, all of that day and the worst "
            "of each other day.",
            tried);
    else
        tl_text_add(t, " Other rows: the soonest of the same hours.");
    if (s->scenario->setup.weather.given)
        tl_text_add(t, " Frost and heat: the worst of all of them, the day of coldest air is among "
                       "them.");
    tl_text_add(t, " No other hour is tried.");
}

static void add_basis(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    const struct tl_worst_hour *w = &s->when;
    struct tl_build b;
    struct tl_text *t = tl_card_row(c, TL_CARD_BASIS);

    tl_text_add(t, "Times: it fails on ");
    tl_endure_add_moment(t, s, w->at_d);
    tl_text_addf(t, ", %s", tl_endure_day_words(s->starts.start[s->starts.worst].day));
    add_other_hour(t, s, "stress", s->starts.caution);
    add_other_hour(t, s, "death", s->starts.lost);
    if (s->starts.n > 1)
        tl_text_addf(t, ", the worst of %zu hours tried for \"%s\"", s->starts.n,
                     tl_endure_words(s, s->question.fails));
    tl_text_addf(t, "; water %s, oxygen %.3g mg/L.",
                 quantity(TL_DIM_TEMPERATURE, units, w->temperature_degC).text, w->o2);
    add_tried(t, s);
    tl_text_add(
        tl_card_row(c, TL_CARD_BASIS),
        "* Common practice, no source. Fish that gasp, roll over or die: ask a veterinarian. "
        "Mains: licensed electrician, local codes. Chemicals: gloves, label, weigh.");
    tl_build_info(&b);
    tl_text_addf(tl_card_row(c, TL_CARD_BASIS),
                 "towerloop %s (%s). Make a new card when fish, feed, gear or season change.",
                 b.version, b.commit);
}

static bool whole(const struct tl_card *c)
{
    bool failed = c->loop.failed;
    for (size_t p = 0; p < TL_NCARD_PART; p++) {
        failed |= c->part[p].note.failed;
        for (size_t i = 0; i < c->part[p].rows; i++)
            for (size_t k = 0; k < TL_CARD_COLUMNS; k++)
                failed |= c->part[p].cell[i][k].failed;
    }
    return !failed;
}

int tl_card_make(const struct tl_endure_study *s, double soda_most_tan_gN_m3,
                 enum tl_unit_system units, struct tl_card *out)
{
    *out = (struct tl_card){.title = ""};
    add_loop(s, units, out);
    add_care(s, units, out);
    tl_card_add_times(s, units, out);
    add_steps(s, units, out);
    tl_card_add_tests(s, soda_most_tan_gN_m3, units, out);
    add_basis(s, units, out);
    return whole(out) ? TL_OK : TL_E_MEMORY;
}
