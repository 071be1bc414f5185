/* What an answer hangs on: the range of the equations, a filter that is ready, water that grows with the
 * tank. */
#include "answer.h"
#include "page.h"
#include "size_words.h"
#include "towerloop/run_end.h"
#include "towerloop/shock.h"
#include "towerloop/summary.h"

static void say_ranges(const struct tl_size_trial *trial, FILE *f)
{
    struct tl_text t = {0};
    if (!tl_size_outside(trial))
        return;
    tl_text_add(&t, "Outside published range: ");
    tl_size_add_ranges(&t, trial);
    tl_text_add(&t, ". Nobody has measured what the equation says there.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

/* No size makes it safe. */
static void say_medicine(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    if (v->steady || !tl_setup_gives_medicine(&v->scenario->setup))
        return;
    tl_text_add(&t, "WARNING: medicine is given in this run. What it does to fish is not judged, "
                    "at any size; it is for a veterinarian to decide.");
    tl_overdose_say(&v->scenario->setup, &t);
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

/* Whether the filter is not ready in one of the answers. */
static bool any_unready(const struct tl_size_view *v)
{
    for (size_t i = 0; i < v->front.n; i++) {
        const struct tl_size_result *r = &v->front.second[i];
        if (r->outcome != TL_SIZE_NEVER && r->point[r->answer].trial.unready)
            return true;
    }
    return false;
}

void tl_size_add_cannot_tell(struct tl_text *t, const struct tl_size_view *v)
{
    const struct tl_setup *s = &v->scenario->setup;
    if (v->steady || v->quantities == 0 || !tl_size_found(v))
        return;
    if (v->own.made) {
        tl_text_add(t, v->own.result.cannot_tell);
        return;
    }
    tl_run_cannot_tell(s, s->length_d, false, any_unready(v), t);
    tl_overdose_say(s, t);
    tl_run_end_say(s, t);
}

static void say_verdicts_grounds(const struct tl_size_view *v, FILE *f)
{
    const int changed = tl_limits_changed(&v->scenario->limits);
    struct tl_text t = {0}, blind = {0};
    if (changed > 0)
        tl_text_addf(&t, "Judged by limits of your own (values changed: %d). ", changed);
    tl_size_add_cannot_tell(&blind, v);
    tl_text_add_text(&t, 0, &blind);
    tl_text_free(&blind);
    if (!tl_text_is_empty(&t))
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_free(&t);
}

/* --- the way to the steady day ------------------------------------------------------------------- */

enum { NAMED = 3 };

/* The limits that make the run as bad as it is: "nitrite 5.98 mg/L as N (danger from 0.5)". */
static void add_breaches(struct tl_text *t, const struct tl_run_result *r)
{
    size_t n = 0;
    for (int i = 0; i < TL_NLIMIT && n < NAMED; i++) {
        const struct tl_run_limit *l = &r->limit[i];
        if (l->grade != r->grade || l->grade == TL_WITHIN)
            continue;
        const bool danger = l->grade == TL_DANGER;
        tl_text_addf(t, "%s%s %s%s%s (%s: %s)", n++ ? ", " : ": ", tl_size_limit_name(i),
                     tl_size_figure(l->worst).text, *l->unit ? " " : "", l->unit,
                     danger ? "danger" : "caution",
                     tl_size_figure(danger ? l->danger : l->caution).text);
    }
}

static const char *media_of(const struct tl_tower *t)
{
    return t->biofilm == TL_BIOFILM_NEW      ? "new media"
           : t->biofilm == TL_BIOFILM_SEEDED ? "seeded media"
                                             : "mature media";
}

static void say_own_run(const struct tl_size_view *v, FILE *f)
{
    const struct tl_tower *tower = &v->scenario->setup.tower;
    const struct tl_run_result *r = &v->own.result;
    const bool ready = tower->biofilm == TL_BIOFILM_MATURE;
    struct tl_text t = {0};

    if (!ready)
        tl_text_addf(&t, "WARNING: this is after the filter is ready. ");
    else if (r->grade > TL_WITHIN)
        tl_text_addf(&t, "WARNING: this is after the water has settled. ");
    else
        return;
    tl_text_addf(&t, "In the %s days of this file, which start with %s, ",
                 tl_size_figure(v->scenario->setup.length_d).text, media_of(tower));
    if (r->fish_lost)
        tl_text_add(&t, "the fish would run out of oxygen first");
    else if (r->grade == TL_DANGER)
        tl_text_add(&t, "the fish would be in danger first");
    else if (r->grade == TL_CAUTION)
        tl_text_add(&t, "the fish would come under stress first");
    else
        tl_text_add(&t, "no limit is passed");
    add_breaches(&t, r);
    tl_text_add(&t, ".");
    if (r->grade > TL_WITHIN && !ready)
        tl_text_add(&t, " Let the filter run in before they come, or stock few at a time.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

static void say_unready(const struct tl_size_view *v, FILE *f)
{
    const struct tl_tower *tower = &v->scenario->setup.tower;
    struct tl_text t = {0};
    if (tower->biofilm == TL_BIOFILM_MATURE)
        return;
    tl_text_addf(
        &t,
        "WARNING: this is after the filter is ready. With the %s of this file the fish may "
        "well be in danger first; none of these values was judged for that.",
        media_of(tower));
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

/* --- water that comes with the volume ------------------------------------------------------------ */

static void say_volume(const struct tl_size_view *v, FILE *f)
{
    const struct tl_setup *was = &v->scenario->setup, *is = &v->own.scenario.setup;
    const bool alone =
        was->tank.surface_m2 == is->tank.surface_m2 && was->tank.walls_m2 == is->tank.walls_m2;
    char before[40], after[40];
    struct tl_text t = {0};

    if (was->tank.volume_m3 == is->tank.volume_m3)
        return;
    if (is->trickle_1_d > 0) {
        tl_display_text(TL_DIM_FLOW, v->units, was->trickle_1_d * was->tank.volume_m3, 3, before,
                        sizeof before);
        tl_display_text(TL_DIM_FLOW, v->units, is->trickle_1_d * is->tank.volume_m3, 3, after,
                        sizeof after);
        tl_text_addf(&t,
                     "The trickle is a share of the tank's volume, so the fresh water changed with "
                     "it: %s there, %s as the file stands. ",
                     after, before);
    } else if (is->change_every_d > 0 && is->change_amount > 0) {
        tl_text_add(&t, "The water changes are a share of the tank's volume and grew or shrank "
                        "with it. ");
    }
    if (alone) {
        tl_display_text(TL_DIM_AREA, v->units, is->tank.surface_m2, 3, before, sizeof before);
        tl_display_text(TL_DIM_AREA, v->units, is->tank.walls_m2, 3, after, sizeof after);
        tl_text_addf(&t,
                     "Surface and walls stayed as the file has them, %s and %s; those of another "
                     "tank differ.",
                     before, after);
    }
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

void tl_size_cautions(const struct tl_size_view *v, FILE *f)
{
    say_verdicts_grounds(v, f);
    say_medicine(v, f);
    if (v->quantities == 1)
        say_ranges(&v->one.point[v->one.answer].trial, f);
    if (v->own.made)
        say_volume(v, f);
    if (v->steady && v->own.made)
        say_own_run(v, f);
    else if (v->steady)
        say_unready(v, f);
}
