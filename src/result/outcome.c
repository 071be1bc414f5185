/* The verdict over everything that is known after a run. */
#include <math.h>

#include "deadly.h"
#include "text.h"
#include "towerloop/film_proof.h"
#include "towerloop/run_end.h"
#include "towerloop/shock.h"
#include "towerloop/summary.h"
#include "unfed.h"

/* Water stood on a clogged tray. */
static bool ponded(const struct tl_outcome *o)
{
    return o->solids && o->solids->most_voids >= TL_VOIDS_PONDING;
}

/* What it does to fish is not reckoned, so with fish at any time of the run none of it is known to be borne. */
bool tl_outcome_medicine(const struct tl_outcome *o)
{
    const struct tl_setup *s = &o->scenario->setup;
    return tl_setup_gives_medicine(s) && tl_setup_ever_fish(s);
}

/* A change of water leaves fish next to none for a while, which is not judged; common practice is at most half. */
#define NEARLY_ALL 0.9

static bool emptied(const struct tl_outcome *o)
{
    return tl_setup_most_change(&o->scenario->setup) >= NEARLY_ALL - 1e-9;
}

/* Fish are in a tank whose filter, that began new or seeded, is not shown to carry them. */
static bool unready(const struct tl_outcome *o)
{
    const struct tl_setup *s = &o->scenario->setup;
    return tl_setup_ever_fish(s) && tl_filter_unready(s, o->verdict->filter_ready_d);
}

enum tl_grade tl_outcome_own_grade(const struct tl_outcome *o)
{
    const bool frozen = o->heat && o->heat->ice_h > 0;
    if (!isnan(o->fish_lost_d) || (frozen && o->heat->fish_ice_h > 0) ||
        tl_setup_overdose(&o->scenario->setup) || tl_deadly(o->verdict))
        return TL_DANGER;
    const bool sulfide = o->bed && tl_bed_sulfide(o->bed);
    if (o->verdict->grade == TL_WITHIN &&
        (frozen || sulfide || ponded(o) || tl_outcome_medicine(o) ||
         tl_run_ends_in_event(&o->scenario->setup) || tl_ranges_outside(o->ranges) > 0 ||
         emptied(o) || unready(o)))
        return TL_CAUTION;
    return o->verdict->grade;
}

const char *tl_outcome_own_verdict(const struct tl_outcome *o)
{
    enum tl_grade grade = tl_outcome_own_grade(o);
    if (grade == TL_CAUTION && o->verdict->grade == TL_WITHIN && tl_ranges_outside(o->ranges) > 0)
        return "caution: outside published range";
    if (grade == TL_CAUTION && o->verdict->grade == TL_WITHIN && tl_outcome_medicine(o))
        return "caution: effect of medicine not judged";
    if (grade == TL_CAUTION && o->verdict->grade == TL_WITHIN &&
        tl_run_ends_in_event(&o->scenario->setup))
        return "caution: ends in the middle of an event";
    if (grade == TL_CAUTION && o->verdict->grade == TL_WITHIN && emptied(o))
        return "caution: tank nearly emptied";
    if (grade == TL_CAUTION && o->verdict->grade == TL_WITHIN && unready(o))
        return "caution: filter not shown to be ready";
    return tl_grade_text(grade);
}

enum tl_grade tl_outcome_grade(const struct tl_outcome *o)
{
    const enum tl_grade own = tl_outcome_own_grade(o);
    return o->spread && o->spread->grade > own ? o->spread->grade : own;
}

const char *tl_outcome_verdict(const struct tl_outcome *o)
{
    const enum tl_grade grade = tl_outcome_grade(o);
    return grade > tl_outcome_own_grade(o) ? tl_grade_text(grade) : tl_outcome_own_verdict(o);
}

/* Ammonia and nitrite take about two weeks to follow a change; judgement, as film grows over weeks. */
#define TELLING_D  14.0
#define SHORTEST_D (1.0 / 1440) /* shorter times are not told in figures */

void tl_run_cannot_tell(const struct tl_setup *s, double judged_d, bool empty, bool unready,
                        struct tl_text *out)
{
    char days[32];
    if (!tl_setup_ever_fish(s))
        tl_text_add(out, "There are no fish in this run: it cannot tell how the water goes with "
                         "fish in it.");
    if (judged_d < TELLING_D) {
        if (judged_d < SHORTEST_D)
            (void)tl_format(days, sizeof days, "less than a minute");
        else
            tl_display_text(TL_DIM_TIME, TL_METRIC, judged_d, 2, days, sizeof days);
        tl_text_addf(out,
                     "%s%s of %s is too short to tell how ammonia, nitrite and nitrate end: they "
                     "build up over days, and the film grows over weeks.",
                     out->length > 0 ? " " : "", empty ? "A time with fish" : "A run", days);
    }
    tl_unfed_say(s, out);
    if (s->tower.biofilm_assumed && s->tower.trays > 0 && tl_setup_ever_fish(s))
        tl_text_addf(
            out,
            "%sThe scenario does not say how the biofilm begins: the filter is taken as one in "
            "use for months. If it is new, say so (tower: biofilm: new): a new filter does "
            "not carry fish.",
            out->length > 0 ? " " : "");
    if (unready)
        tl_text_addf(out,
                     "%sThe new filter is not shown to be ready by the end: ammonia and nitrite "
                     "can still rise after it. Make the run longer: a new filter takes weeks.",
                     out->length > 0 ? " " : "");
}

bool tl_filter_unready(const struct tl_setup *s, double ready_d)
{
    return s->tower.biofilm != TL_BIOFILM_MATURE && isnan(ready_d);
}

/* A mass that may be next to nothing. */
static void add_g(struct tl_text *out, double g)
{
    char text[32];
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, fmax(0, g), 3, text, sizeof text);
    tl_text_addf(out, "%s", g < 0.01 ? "less than 0.01" : text);
}

void tl_filter_unproven(const struct tl_verdict *v, struct tl_text *out)
{
    const struct tl_film_work *w = &v->film;
    const bool to_nitrite = w->oxidised_g >= TL_PROOF_SHARE * w->came_in_g;
    if (!w->asked || isnan(v->low_from_d) || !isnan(v->filter_ready_d))
        return;
    if (!(w->came_in_g > 0)) {
        tl_text_addf(out,
                     "Ammonia is low because none came in, from fish, feed or a dose, in the last "
                     "%g days: the filter is not shown to be ready.",
                     TL_READY_DAYS);
    } else if (tl_film_oxidised(w, TL_PROOF_SHARE)) {
        tl_text_addf(out,
                     "Ammonia is low, but the filter still grows by %.0f %% a day: it is not shown "
                     "to be ready.",
                     100 * w->growth_1_d);
    } else {
        tl_text_addf(out, "Ammonia is low by much or new water, not by the filter, which %s ",
                     to_nitrite ? "brought" : "oxidised");
        add_g(out, to_nitrite ? w->nitrite_oxidised_g : w->oxidised_g);
        tl_text_add(out, " of ");
        add_g(out, w->came_in_g);
        tl_text_addf(out, " g N%s in the last %g days: it is not shown to be ready.",
                     to_nitrite ? " on to nitrate" : "", TL_READY_DAYS);
    }
}

void tl_overdose_say(const struct tl_setup *s, struct tl_text *out)
{
    const struct tl_event *e = tl_setup_overdose(s);
    char content[32], known[32];
    if (!e)
        return;
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, tl_medicine_content_g_m3(s, e), 3, content,
                    sizeof content);
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, tl_medicine_known_to(e->dose), 3, known,
                    sizeof known);
    tl_text_addf(out,
                 "%s%s mg/L of %s is far too much for fish: nothing is known of it above %s mg/L.",
                 out->length > 0 ? " " : "", content, tl_dose_name(e->dose), known);
}

static void say_gas(const struct tl_range_note *n, struct tl_text *out)
{
    if (n->outside)
        tl_text_addf(out,
                     "%sGas bubble disease is not judged: oxygen stays above %.0f %% of saturation "
                     "for an hour or more, %.0f %% at the most.",
                     out->length > 0 ? " " : "", n->high, n->value);
}

void tl_outcome_not_judged(const struct tl_outcome *o, struct tl_text *out)
{
    const struct tl_setup *s = &o->scenario->setup;
    tl_overdose_say(s, out);
    tl_deadly_say(o->verdict, out);
    say_gas(&o->ranges->note[TL_RANGE_SUPERSATURATION], out);
    if (emptied(o))
        tl_text_addf(out,
                     "%s%.0f %% of the tank is changed at once: what so little water does to fish "
                     "meanwhile is not judged.",
                     out->length > 0 ? " " : "", 100 * tl_setup_most_change(s));
    tl_run_end_say(s, out);
}

void tl_outcome_cannot_tell(const struct tl_outcome *o, struct tl_text *out)
{
    const double empty_h = o->verdict->hours_empty;
    const struct tl_setup *s = &o->scenario->setup;
    if (tl_outcome_grade(o) != TL_DANGER)
        tl_run_cannot_tell(s, s->length_d - empty_h / 24, empty_h > 0,
                           tl_filter_unready(s, o->verdict->filter_ready_d), out);
    tl_outcome_not_judged(o, out);
}

int tl_outcome_parameters_changed(const struct tl_outcome *o)
{
    const struct tl_params *p = &o->scenario->setup.params;
    struct tl_params dflt;
    int changed = 0;
    tl_params_default(&dflt);
#define COUNT(field, default_, dim, lo, hi, status, help) changed += p->field != dflt.field;
    TL_PARAM_LIST(COUNT)
#undef COUNT
    return changed;
}
