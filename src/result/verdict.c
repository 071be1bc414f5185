/* The judge of one run: verdict_kernel.h with what hangs on the water's temperature put in. */
#include "towerloop/verdict.h"

#include <math.h>
#include <stdlib.h>

#include "verdict_kernel.h"

struct tl_judge {
    struct tl_judging judging;
    double k_degC; /* temperature that its constants belong to */
};

const char *tl_grade_text(enum tl_grade g)
{
    static const char *const text[] = {"within limits", "caution", "danger"};
    return text[g];
}

enum tl_grade tl_grade_of(double value, double caution, double danger, bool below)
{
    if (lane_beyond(value, danger, below))
        return TL_DANGER;
    return lane_beyond(value, caution, below) ? TL_CAUTION : TL_WITHIN;
}

int tl_judge_new(const struct tl_limits *limits, double length_d, struct tl_judge **out)
{
    struct tl_judge *j = calloc(1, sizeof *j);
    if (!j)
        return TL_E_MEMORY;
    j->judging.limits = *limits;
    j->k_degC = NAN;
    tl_judging_begin(&j->judging, length_d);
    *out = j;
    return TL_OK;
}

int tl_judge_add(struct tl_judge *j, double t, double temperature_degC,
                 const double water[TL_NWATER], double ph, bool occupied)
{
    if (!(temperature_degC == j->k_degC)) {
        tl_carbonate_constants(temperature_degC, &j->judging.k);
        tl_epa_ammonia_warmth(temperature_degC, &j->judging.epa);
        j->k_degC = temperature_degC;
    }
    return tl_judging_add(&j->judging, t, temperature_degC, water, exp(-M_LN10 * ph), ph, occupied);
}

void tl_judge_finish(struct tl_judge *j, struct tl_verdict *out)
{
    tl_judging_close(&j->judging);
    tl_judging_read(&j->judging, 0, out);
}

static void take_jump(struct tl_limit_verdict *l, double jump, double at_d, double hours)
{
    if (!l->judged || !(jump > l->worst))
        return;
    l->worst = jump;
    l->worst_d = at_d;
    const enum tl_grade grade = tl_grade_of(jump, l->caution, l->danger, false);
    if (grade == TL_WITHIN)
        return;
    l->hours_caution = fmax(l->hours_caution, hours);
    if (grade == TL_DANGER)
        l->hours_danger = fmax(l->hours_danger, hours);
    if (!(l->first_breach_d <= at_d))
        l->first_breach_d = at_d;
    l->grade = grade > l->grade ? grade : l->grade;
}

void tl_verdict_take_jump(struct tl_verdict *v, double jump_degC, double at_d, double end_d)
{
    const double left_h = 24 * (end_d - at_d);
    if (!(left_h >= 0))
        return;
    take_jump(&v->limit[TL_LIMIT_HOUR_CHANGE], jump_degC, at_d, fmin(1, left_h));
    take_jump(&v->limit[TL_LIMIT_DAY_CHANGE], jump_degC, at_d, fmin(24, left_h));
    for (int i = TL_LIMIT_HOUR_CHANGE; i <= TL_LIMIT_DAY_CHANGE; i++)
        if (v->limit[i].grade > v->grade)
            v->grade = v->limit[i].grade;
}

void tl_judge_free(struct tl_judge *j)
{
    if (!j)
        return;
    tl_judging_free(&j->judging);
    free(j);
}
