/* Until how much ammonia the calendar of the same scenario lets baking soda be given: a card must not allow
 * more. */
#include <math.h>

#include "card_view.h"
#include "towerloop/assess.h"
#include "towerloop/status.h"

static double least_of(const struct tl_jobs *jobs)
{
    double least = INFINITY;
    for (size_t i = 0; i < jobs->n; i++)
        if (jobs->job[i].kind == TL_JOB_DOSE && jobs->job[i].from == TL_JOB_FROM_RUN)
            least = fmin(least, jobs->job[i].most_tan_gN_m3); /* NAN counts as nothing */
    return least;
}

int tl_card_soda(const struct tl_scenario *s, const volatile int *interrupted,
                 double *most_tan_gN_m3)
{
    struct tl_upkeep upkeep = {.days = 0};
    struct tl_jobs jobs = {.n = 0};
    struct tl_assessment run;
    struct tl_model *m = NULL;
    const struct tl_assess_options options = {.upkeep = &upkeep, .interrupted = interrupted};
    *most_tan_gN_m3 = INFINITY;
    int status = tl_model_build(&s->setup, &m);
    if (status == TL_OK)
        status = tl_assess(m, &s->limits, &options, &run);
    if (status == TL_OK)
        status = tl_jobs_make(s, &upkeep, run.verdict.filter_ready_d, run.end_d, &jobs);
    if (status == TL_OK)
        *most_tan_gN_m3 = least_of(&jobs);
    tl_jobs_free(&jobs);
    tl_upkeep_free(&upkeep);
    tl_model_free(m);
    /* a run that cannot be judged has no calendar */
    return status == TL_E_SOLVER || status == TL_E_LEDGER ? TL_OK : status;
}
