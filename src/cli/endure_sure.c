/* Uncertain runs of a failure: every time is told on the safe side. */
#include "endure_sure.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>

#include "answer.h"
#include "card_view.h"
#include "endure_view.h"
#include "json.h"
#include "page.h"
#include "towerloop/status.h"

#define MINUTE_D (1.0 / 1440)
#define HALF     0.5
#define RARE     0.05 /* of the runs may be sooner */

enum { SHARES = 3, SHOWN = TL_ENDURE_SHOWN };
static const double share[SHARES] = {RARE, 0.25, HALF};

/* --- running ------------------------------------------------------------------------------------ */

static void say_runs(void *arg, size_t runs, size_t of)
{
    tl_progress_say(arg, "how sure: %zu of %zu runs", runs, of);
}

int tl_endure_sure_run(struct tl_study_task *t, const struct tl_endure_study *s,
                       const struct tl_paired *p, struct tl_endure_uncertain *out)
{
    const struct tl_endure_options options = {.threads = t->options.threads,
                                              .interrupted = &tl_interrupted,
                                              .progress = say_runs,
                                              .progress_arg = &t->progress};
    const int status = tl_endure_uncertain_run(s, &p->spread, &options, out);
    const int reason = errno;
    tl_progress_clear(&t->progress);
    if (status != TL_E_INTERRUPTED)
        return tl_uncertain_complain(status, p->file, "", reason);
    tl_complain("interrupted; the cases are kept, the same command makes the uncertain runs anew");
    return status;
}

/* --- in words ----------------------------------------------------------------------------------- */

/* In so many of all runs, or where that cannot be said what can: "in 95 of 100 runs no sooner than 2 h 10 min". */
static void add_no_sooner(struct tl_text *t, const struct tl_endure_study *s,
                          enum tl_endure_moment m, double of)
{
    const double minutes = tl_endure_no_sooner(s->uncertain, m, of);
    char span[SHOWN];
    tl_endure_span(span, isfinite(minutes) ? minutes : s->question.outage_d / MINUTE_D);
    if (minutes < 1 && of < HALF)
        tl_text_addf(t, "in %.0f of 100 runs it may be there at once", 100 * of);
    else if (minutes < 1)
        tl_text_add(t, "in half of them it may be there at once");
    else if (of < HALF)
        tl_text_addf(t, "in %.0f of 100 runs %s %s", 100 * (1 - of),
                     isinf(minutes) ? "not within" : "no sooner than", span);
    else
        tl_text_addf(t, "in half of them %s %s", isinf(minutes) ? "not within" : "no sooner than",
                     span);
}

/* Too few runs to say when it comes in nearly all. */
static bool too_few(const struct tl_endure_uncertain *u)
{
    return u->runs < tl_chance_least(RARE);
}

static void add_moment(struct tl_text *t, const struct tl_endure_study *s, enum tl_endure_moment m,
                       const char *what)
{
    const struct tl_endure_uncertain *u = s->uncertain;
    char text[TL_CHANCE_SIZE];
    tl_chance_text(&u->of[m], text);
    tl_text_addf(t, " %s in %s", what, text);
    if (u->of[m].runs > 0 && !too_few(u)) {
        const double rare = tl_endure_no_sooner(u, m, RARE);
        const double half = tl_endure_no_sooner(u, m, HALF);
        tl_text_add(t, ": ");
        if (half >= 1)
            add_no_sooner(t, s, m, RARE);
        if (half >= 1 && isfinite(rare))
            tl_text_add(t, ", ");
        if (half < 1 || isfinite(rare))
            add_no_sooner(t, s, m, HALF);
    }
    tl_text_add(t, ".");
}

void tl_endure_sure_text(const struct tl_endure_study *s, FILE *f)
{
    const struct tl_endure_uncertain *u = s->uncertain;
    struct tl_text t = {0};
    if (!u)
        return;
    tl_text_addf(&t,
                 "How sure: %zu runs of this failure at this hour, each with other values for %zu "
                 "uncertain input%s (seed %" PRIu64 ").",
                 u->runs, u->spread->inputs, u->spread->inputs == 1 ? "" : "s", u->spread->seed);
    if (isfinite(s->scenario->limits.o2.danger))
        add_moment(&t, s, TL_ENDURE_DANGER, "Danger comes");
    add_moment(&t, s, TL_ENDURE_LOST, "Fish die");
    if (isfinite(s->scenario->limits.o2.caution))
        add_moment(&t, s, TL_ENDURE_CAUTION, "Stress comes");
    if (u->lost_before > 0)
        tl_text_addf(&t, " Fish lost before it fails, and counted as at once: in %zu.",
                     u->lost_before);
    if (u->unknown > 0)
        tl_text_addf(&t, " Runs that could not be calculated, and count as at once: %zu.",
                     u->unknown);
    if (too_few(u))
        tl_text_addf(&t, " How soon in 95 of 100 runs cannot be told from fewer than %zu.",
                     tl_chance_least(RARE));
    tl_text_add(&t, " This is about oxygen alone.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

void tl_endure_sure_card(const struct tl_endure_study *s, struct tl_text *t)
{
    struct tl_text own = {0};
    if (!s->uncertain)
        return;
    const bool danger = isfinite(s->scenario->limits.o2.danger);
    /* the card has times of other failures, too, some of them much shorter */
    tl_text_addf(&own,
                 "%s%s (%s only, same hour), with other values for what is uncertain (%zu runs): ",
                 t->length > 0 ? " " : "", danger ? "Danger" : "Death",
                 tl_card_failure(s, s->question.fails), s->uncertain->runs);
    if (too_few(s->uncertain))
        tl_text_add(&own, "too few runs to tell how soon");
    else
        add_no_sooner(&own, s, danger ? TL_ENDURE_DANGER : TL_ENDURE_LOST, RARE);
    tl_text_add(&own, ".");
    tl_text_add_text(t, 0, &own);
    tl_text_free(&own);
}

/* --- JSON --------------------------------------------------------------------------------------- */

static json_t *moment_json(const struct tl_endure_uncertain *u, enum tl_endure_moment m,
                           const char *key)
{
    json_t *sooner = json_array();
    for (size_t i = 0; i < SHARES; i++) {
        const double minutes = tl_endure_no_sooner(u, m, share[i]);
        tl_json_append(&sooner,
                       json_pack("{s:f, s:o, s:b}", "in_of_100", 100 * (1 - share[i]), "minutes",
                                 tl_json_number(minutes), "known", !isnan(minutes)));
    }
    return json_pack("{s:s, s:o, s:o}", "what", key, "in_outage", tl_chance_object(u->of[m]),
                     "no_sooner_than", sooner);
}

json_t *tl_endure_sure_json(const struct tl_endure_study *s)
{
    static const char *const key[TL_NENDURE_MOMENT] = {
#define ROW(id, key) [id] = (key),
        TL_ENDURE_MOMENT_LIST(ROW)
#undef ROW
    };
    const struct tl_endure_uncertain *u = s->uncertain;
    json_t *moments = json_array();
    if (!u) {
        json_decref(moments);
        return json_null();
    }
    for (int m = 0; m < TL_NENDURE_MOMENT; m++)
        tl_json_append(&moments, moment_json(u, (enum tl_endure_moment)m, key[m]));
    json_t *all = tl_uncertain_asked_json(u->spread);
    tl_json_put(&all, "not_known", json_integer((json_int_t)u->unknown));
    tl_json_put(&all, "impossible", json_integer((json_int_t)u->impossible));
    tl_json_put(&all, "fish_lost_before", json_integer((json_int_t)u->lost_before));
    tl_json_put(&all, "oxygen", moments);
    return all;
}
