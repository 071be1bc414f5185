/* The rows of a card, tried at many hours: what is worst for one failure need not be worst for another, for
 * warmer water or for more fish. */
#include <math.h>

#include "endure_case.h"
#include "towerloop/status.h"

static bool of_one_day(const struct tl_endure_starts *s, size_t a, size_t b)
{
    return floor(s->start[a].when.at_d) == floor(s->start[b].when.at_d);
}

bool tl_endure_is_tried(const struct tl_endure_starts *s, size_t i)
{
    if (of_one_day(s, i, s->worst) || of_one_day(s, i, s->caution) || of_one_day(s, i, s->lost))
        return true;
    for (size_t k = 0; k < s->n; k++)
        if (of_one_day(s, i, k) && s->start[k].lowest_o2 < s->start[i].lowest_o2)
            return false;
    return true;
}

static void take_sooner(struct tl_endured *least, const struct tl_endured *e)
{
    if (*e->fault || isfinite(e->lost_before_d))
        return;
    least->caution_min = fmin(least->caution_min, e->caution_min);
    least->danger_min = fmin(least->danger_min, e->danger_min);
    least->lost_min = fmin(least->lost_min, e->lost_min);
    least->lowest_o2 = fmin(least->lowest_o2, e->lowest_o2);
}

int tl_endure_try_row(const struct tl_endure_study *s, enum tl_endure_row row,
                      const volatile int *interrupted, struct tl_endured *out)
{
    struct tl_endure_case c = s->plan[tl_endure_row_case(row)];
    const double warmer_degC = c.warmer_degC;
    /* what was asked about has been run from all starts already */
    const bool known = row < TL_ENDURE_ROW_WARMER && c.fails == s->question.fails;
    int status = TL_OK;
    tl_endured_nothing(out);
    c.follow_d = 0;
    c.judged = false;
    for (size_t i = 0; i < s->starts.n && s->starts.n > 1 && !known && !status; i++) {
        const struct tl_worst_hour *when = &s->starts.start[i].when;
        struct tl_endured e;
        if (!tl_endure_is_tried(&s->starts, i))
            continue;
        if (row == TL_ENDURE_ROW_WARMER) /* of the row's water, or as much warmer as that is */
            c.warmer_degC =
                warmer_degC + fmin(0, s->when.temperature_degC - when->temperature_degC);
        status = tl_endure_run(s->scenario, when, &c, interrupted, &e);
        if (!status) {
            take_sooner(out, &e);
            tl_endured_free(&e);
        }
    }
    return status;
}
