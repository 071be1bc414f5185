/* What the facade tells of a run that was judged. */
#include <math.h>
#include <stdlib.h>

#include "handle.h"
#include "towerloop/summary.h"

#define FARTHEST_D 1e5 /* a date this far off still has a year of four digits */

const char *tl_version(void)
{
    struct tl_build b;
    tl_build_info(&b);
    return b.version;
}

const char *tl_commit(void)
{
    struct tl_build b;
    tl_build_info(&b);
    return b.commit;
}

int tl_loop_date(struct tl_loop *l, double t_d, char *text, size_t size)
{
    if (!l->model)
        return tl_loop_fail(l, TL_E_INPUT, "the scenario could not be read");
    if (!(fabs(t_d) <= FARTHEST_D))
        return tl_loop_fail(l, TL_E_INPUT, "day %g is too far off for a date", t_d);
    if (size < sizeof "2027-05-01T06:00:00")
        return tl_loop_fail(l, TL_E_INPUT, "a date needs 20 bytes, not %zu", size);
    const struct tl_date date = tl_date_at(&l->scenario.start, t_d);
    tl_date_iso(&date, text, size);
    return TL_OK;
}

/* What the summary is made of. `advice` must outlive it. */
static struct tl_outcome outcome_of(const struct tl_loop *l,
                                    struct tl_advice_text advice[TL_ADVICE_MOST])
{
    for (size_t i = 0; i < l->advice.items; i++)
        advice[i] =
            (struct tl_advice_text){l->advice.item[i].lever, l->advice.item[i].because,
                                    l->advice.item[i].build_more, l->advice.item[i].run_more};
    struct tl_outcome outcome = tl_assessment_outcome(&l->assessment, &l->scenario);
    outcome.advice = advice;
    outcome.advices = l->advice.items;
    outcome.limiting = l->advice.limiting;
    outcome.warning = l->warning;
    outcome.warnings = l->warnings;
    outcome.rtol = l->rtol;
    return outcome;
}

const char *tl_loop_verdict(const struct tl_loop *l)
{
    struct tl_advice_text advice[TL_ADVICE_MOST];
    if (!l->judged)
        return NULL;
    const struct tl_outcome outcome = outcome_of(l, advice);
    return tl_outcome_verdict(&outcome);
}

size_t tl_loop_limits(void)
{
    return TL_NLIMIT;
}

const char *tl_loop_limit_name(size_t index)
{
    static const char *const name[] = {
#define NAME(id, name, unit) name,
        TL_LIMIT_LIST(NAME)
#undef NAME
    };
    return index < TL_NLIMIT ? name[index] : NULL;
}

static int not_judged(struct tl_loop *l)
{
    return tl_loop_fail(l, TL_E_INPUT, "there is no verdict yet: the run is not at its end");
}

struct tl_loop_limit tl_loop_limit_of(const struct tl_limit_verdict *v)
{
    return (struct tl_loop_limit){
        .name = v->name,
        .unit = v->unit,
        .caution = v->caution,
        .danger = v->danger,
        .worst = v->worst,
        .worst_d = v->worst_d,
        .hours_caution = v->hours_caution,
        .hours_danger = v->hours_danger,
        .first_breach_d = v->first_breach_d,
        .grade = (int)v->grade,
    };
}

int tl_loop_limit(struct tl_loop *l, size_t index, struct tl_loop_limit *out)
{
    if (!l->judged)
        return not_judged(l);
    if (index >= TL_NLIMIT)
        return tl_loop_fail(l, TL_E_INPUT, "there are %d limits, no number %zu", TL_NLIMIT, index);
    *out = tl_loop_limit_of(&l->assessment.verdict.limit[index]);
    return TL_OK;
}

double tl_loop_fish_lost_d(const struct tl_loop *l)
{
    return l->trial ? tl_engine_fish_lost_d(tl_trial_engine(l->trial)) : NAN;
}

double tl_loop_ready_d(const struct tl_loop *l)
{
    return l->judged ? l->assessment.verdict.filter_ready_d : NAN;
}

int tl_loop_advise(struct tl_loop *l)
{
    if (!l->judged)
        return not_judged(l);
    const int status = tl_advise(&l->scenario, &l->assessment, NULL, &l->advice);
    free(l->summary);
    l->summary = NULL;
    return status ? tl_loop_fail(l, status, "%s", tl_status_text(status)) : TL_OK;
}

const char *tl_loop_summary(struct tl_loop *l)
{
    struct tl_advice_text advice[TL_ADVICE_MOST];
    int status = TL_OK;
    if (!l->judged) {
        (void)not_judged(l);
        return NULL;
    }
    if (!l->summary) {
        const struct tl_outcome outcome = outcome_of(l, advice);
        status = tl_summary_text(&outcome, &l->summary);
    }
    if (status)
        (void)tl_loop_fail(l, status, "%s", tl_status_text(status));
    return l->summary;
}
