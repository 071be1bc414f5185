/* What stands on the emergency card: cautions, times, first steps, assumptions. */
#include <math.h>

#include "build_sheet.h"
#include "card_view.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

#define MINUTE_D     (1.0 / 1440)
#define SOON_D       0.05 /* no tenth of a day */
#define MUCH_OF_FILM 0.1  /* of what oxidises ammonia or nitrite; judgement */

enum { SHOWN = TL_ENDURE_SHOWN, ALL_FISH = 2, HALF_MORE_FISH = 4, AS_IT_IS = 1, WARMEST = 3 };

struct shown {
    char text[SHOWN];
};

static struct shown quantity(enum tl_dim dim, enum tl_unit_system units, double base)
{
    struct shown s;
    tl_display_text(dim, units, base, 3, s.text, sizeof s.text);
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

static bool has_aerator(const struct tl_endure_study *s)
{
    return s->when.aerator_g_d > 0;
}

static const char *failure(const struct tl_endure_study *s, enum tl_failure f)
{
    switch (f) {
    case TL_FAILURE_PUMP:
        return "Pump dead";
    case TL_FAILURE_AERATOR:
        return "Aerator dead";
    case TL_FAILURE_HALF:
        return "One of two pumps dead";
    case TL_FAILURE_POWER:
    case TL_NFAILURE:
    default:
        return !has_aerator(s) ? "Power cut or pump dead"
               : !has_pump(s)  ? "Power cut or aerator dead"
                               : "Power cut";
    }
}

/* --- head ----------------------------------------------------------------------------------------- */

static void add_loop(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    const struct tl_setup *p = &s->scenario->setup;
    c->title = s->scenario->title;
    tl_text_addf(&c->loop, "Tank %s, settling chamber %s, tower of %d trays, %s of fish.",
                 quantity(TL_DIM_VOLUME, units, p->tank.volume_m3).text,
                 quantity(TL_DIM_VOLUME, units, p->chamber.volume_m3).text, p->tower.trays,
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

/* --- times ---------------------------------------------------------------------------------------- */

static void add_time(struct tl_text *t, const struct tl_endured *e, double minutes, double outage_d)
{
    if (*e->fault)
        tl_text_add(t, "not known");
    else if (isfinite(minutes))
        tl_text_add(t, minutes < 1 ? "at once" : span(minutes).text);
    else
        tl_text_addf(t, "over %s", span(outage_d / MINUTE_D).text);
}

static void add_times_row(const struct tl_endure_study *s, size_t i, const char *label,
                          const char *behind, struct tl_card *c)
{
    const struct tl_endured *e = &s->result[i];
    const double outage_d = s->plan[i].outage_d;
    struct tl_text *cell = tl_card_row(c, TL_CARD_TIMES);
    tl_text_addf(&cell[0], "%s%s", label, behind);
    add_time(&cell[1], e, e->caution_min, outage_d);
    add_time(&cell[2], e, e->danger_min, outage_d);
    if (isfinite(e->lost_before_d))
        tl_text_add(&cell[3], "lost before");
    else
        add_time(&cell[3], e, e->lost_min, outage_d);
}

static void add_level(struct tl_text *t, const char *what, double level)
{
    if (isfinite(level))
        tl_text_addf(t, "%s: oxygen below %.3g mg/L", what, level);
    else
        tl_text_addf(t, "%s: no limit is set", what);
}

/* The case of so many fish in so warm water; outside the range of temperatures it was not run. */
static void add_case(const struct tl_endure_study *s, int fish, int warmth, const char *behind,
                     struct tl_card *c)
{
    const size_t i = TL_ENDURE_TABLE + (size_t)fish * TL_ENDURE_WARMTHS + (size_t)warmth;
    if (!*s->result[i].fault)
        add_times_row(s, i, failure(s, s->question.fails), behind, c);
}

double tl_card_warmest_row_degC(const struct tl_endure_study *s)
{
    const size_t i = TL_ENDURE_TABLE + (size_t)ALL_FISH * TL_ENDURE_WARMTHS + WARMEST;
    return *s->result[i].fault ? -INFINITY : s->when.temperature_degC + s->plan[i].warmer_degC;
}

static void add_times(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    const struct tl_limits *l = &s->scenario->limits;
    const enum tl_failure asked = s->question.fails;
    struct tl_text *head = tl_card_row(c, TL_CARD_TIMES);
    struct tl_text warmer = {0};

    tl_text_add(&head[0], "What fails");
    add_level(&head[1], "Stress", l->o2.caution);
    add_level(&head[2], "Danger", l->o2.danger);
    add_level(&head[3], "Death", s->scenario->setup.params.o2_critical);
    add_times_row(s, asked, failure(s, asked), "", c);
    for (int f = 0; f < TL_FAILURE_HALF; f++)
        if ((enum tl_failure)f != asked && tl_endure_tells(s, (enum tl_failure)f))
            add_times_row(s, (size_t)f, failure(s, (enum tl_failure)f), "", c);
    tl_text_addf(&warmer, ", water %s",
                 quantity(TL_DIM_TEMPERATURE, units,
                          s->when.temperature_degC + s->plan[TL_ENDURE_TABLE + WARMEST].warmer_degC)
                     .text);
    add_case(s, ALL_FISH, WARMEST, tl_text_string(&warmer), c);
    add_case(s, HALF_MORE_FISH, AS_IT_IS, ", half more fish", c);
    tl_text_free(&warmer);
    if (s->result[asked].ice_min < 1)
        tl_text_add(&c->part[TL_CARD_TIMES].note,
                    "There is ice on the water from the start: keep a hole open, with warm water, "
                    "never with blows.* No air comes through ice, which is reckoned with. ");
    else if (isfinite(s->result[asked].ice_min))
        tl_text_addf(&c->part[TL_CARD_TIMES].note, "The water freezes after %s: keep a hole open. ",
                     span(s->result[asked].ice_min).text);
    tl_text_add(&c->part[TL_CARD_TIMES].note,
                "Calculated, not measured: act at once, never wait. Gasping fish are in danger "
                "whatever stands here.");
    tl_endure_elsewhere(&c->part[TL_CARD_TIMES].note, s);
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
static void air_by(const struct tl_endured *e, char when[SHOWN])
{
    const double minutes = isfinite(e->caution_min) ? e->caution_min : e->danger_min;
    if (*e->fault || minutes < 1)
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

    air_by(&s->result[q->fails], when);
    if (isinf(g_h))
        tl_text_addf(&t, "Air, all there is: no aerator alone would do for %s. ", outage.text);
    else if (g_h > 0)
        tl_text_addf(
            &t,
            "Start the emergency aerator: at least %.3g g/h of oxygen, %.2g W, %.3g Wh for "
            "%s. ",
            g_h, watts, watts * 24 * q->outage_d, outage.text);
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
    if (isfinite(none->danger_min) && !*help->fault && gained >= 1)
        tl_text_addf(&t, " That puts danger off by %s%s.",
                     isinf(help->danger_min) ? "at least " : "", span(gained).text);
    tl_text_add(&t, " Leave the fish where they are.*");
    add_step(c, "At once", &t);
}

/* How long the film keeps most of what it is: the last of the stages before much is lost. */
static void step_media(const struct tl_endure_study *s, struct tl_card *c)
{
    const struct tl_endured *e = &s->result[TL_ENDURE_FILM];
    struct tl_text t = {0};
    char when[SHOWN];
    int lasts = 0;

    if (s->question.fails == TL_FAILURE_AERATOR || s->question.fails == TL_FAILURE_HALF ||
        !has_pump(s) || isnan(e->stage_left[0][0]))
        return;
    while (lasts < TL_ENDURE_STAGES && e->stage_left[lasts][0] > 1 - MUCH_OF_FILM &&
           e->stage_left[lasts][1] > 1 - MUCH_OF_FILM)
        lasts++;
    const int shown = lasts < TL_ENDURE_STAGES ? lasts : TL_ENDURE_STAGES - 1;
    const double left = fmin(e->stage_left[shown][0], e->stage_left[shown][1]);
    (void)tl_format(when, SHOWN, "Before %s",
                    span(tl_endure_stage_d[lasts > 0 ? lasts - 1 : 0] / MINUTE_D).text);
    tl_text_addf(&t,
                 "Keep the media moist: pour tank water over the trays from firm ground.* Without "
                 "water the filter loses %.0f %% in %s.",
                 100 * fmax(0, 1 - left), span(tl_endure_stage_d[shown] / MINUTE_D).text);
    add_step(c, when, &t);
}

static void step_back(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const double days = fmax(fmax(e->nh3_back_d, e->no2_back_d), e->o2_back_d);
    struct tl_text t = {0};

    if (has_pump(s) && s->question.fails != TL_FAILURE_AERATOR)
        tl_text_add(&t,
                    "Drain what stood in chamber, pipes and media to waste, then start slowly.* ");
    tl_text_add(&t, "Test ammonia and nitrite after 4 h, then daily.*");
    if (isfinite(e->peak_nh3) && isfinite(e->peak_no2))
        tl_text_addf(&t, " Expect up to %.2g un-ionised ammonia, %.2g nitrite, mg/L as N",
                     e->peak_nh3, e->peak_no2);
    if (isfinite(e->peak_nh3) && isfinite(e->peak_no2) && days < SOON_D)
        tl_text_add(&t, ", hardly more than before");
    else if (isfinite(e->peak_nh3) && isfinite(e->peak_no2) && isfinite(days))
        tl_text_addf(&t, "; as before after %.1f days", days);
    if (isfinite(e->peak_nh3) && isfinite(e->peak_no2))
        tl_text_add(&t, ".");
    if (s->when.temperature_degC < TL_TOO_COLD_TO_FEED_DEGC)
        tl_text_addf(&t, " Feed nothing while the water is below %s.",
                     quantity(TL_DIM_TEMPERATURE, units, TL_TOO_COLD_TO_FEED_DEGC).text);
    else
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
    step_back(s, units, c);
}

/* --- assumptions ---------------------------------------------------------------------------------- */

static void add_basis(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *c)
{
    const struct tl_worst_hour *w = &s->when;
    const struct tl_date d = tl_date_at(&s->scenario->start, w->at_d);
    struct tl_build b;
    struct tl_text *t = tl_card_row(c, TL_CARD_BASIS);

    tl_text_addf(t, "Times: it fails on %04d-%02d-%02d at %02d:%02d, %s", d.year, d.month, d.day,
                 d.second / 3600, d.second / 60 % 60,
                 tl_endure_day_words(s->starts.start[s->starts.worst].day));
    if (s->starts.n > 1)
        tl_text_addf(t, ", the worst of %zu hours tried for \"%s\"", s->starts.n,
                     tl_endure_words(s, s->question.fails));
    tl_text_addf(t, "; water %s, oxygen %.3g mg/L.",
                 quantity(TL_DIM_TEMPERATURE, units, w->temperature_degC).text, w->o2);
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

int tl_card_make(const struct tl_endure_study *s, enum tl_unit_system units, struct tl_card *out)
{
    *out = (struct tl_card){.title = ""};
    add_loop(s, units, out);
    add_care(s, units, out);
    add_times(s, units, out);
    add_steps(s, units, out);
    tl_card_add_tests(s, units, out);
    add_basis(s, units, out);
    return whole(out) ? TL_OK : TL_E_MEMORY;
}
