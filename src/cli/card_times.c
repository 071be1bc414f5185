/* How long the fish have, on the emergency card: a row a failure, each column its own worst. */
#include <math.h>

#include "card_view.h"

#define MINUTE_D (1.0 / 1440)

const char *tl_card_failure(const struct tl_endure_study *s, enum tl_failure f)
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
        return !(s->when.aerator_g_d > 0) ? "Power cut or pump dead"
               : !(s->when.flow_m3_d > 0) ? "Power cut or aerator dead"
                                          : "Power cut";
    }
}

/* --- the times of a row --------------------------------------------------------------------------- */

static struct tl_card_times times_of_case(const struct tl_endure_study *s, size_t i)
{
    const struct tl_endured *e = &s->result[i];
    return (struct tl_card_times){.caution_min = e->caution_min,
                                  .danger_min = e->danger_min,
                                  .lost_min = e->lost_min,
                                  .outage_d = s->plan[i].outage_d,
                                  .lost_before_d = e->lost_before_d,
                                  .unknown = *e->fault != '\0'};
}

static void take_sooner(struct tl_card_times *t, const struct tl_card_times *other)
{
    if (other->unknown || isfinite(other->lost_before_d))
        return;
    t->caution_min = fmin(t->caution_min, other->caution_min);
    t->danger_min = fmin(t->danger_min, other->danger_min);
    t->lost_min = fmin(t->lost_min, other->lost_min);
}

struct tl_card_times tl_card_times_of(const struct tl_endure_study *s)
{
    struct tl_card_times t = times_of_case(s, s->question.fails);
    for (size_t i = 0; i < s->starts.n && s->starts.n > 1; i++) {
        const struct tl_endure_start *one = &s->starts.start[i];
        const struct tl_card_times other = {.caution_min = one->caution_min,
                                            .danger_min = one->danger_min,
                                            .lost_min = one->lost_min,
                                            .lost_before_d = one->lost_before_d};
        take_sooner(&t, &other);
    }
    return t;
}

static struct tl_card_times times_of_row(const struct tl_endure_study *s, enum tl_endure_row row)
{
    struct tl_card_times t = times_of_case(s, tl_endure_row_case(row));
    const struct tl_card_times other = times_of_case(s, TL_ENDURE_ROWS + (size_t)row);
    take_sooner(&t, &other);
    return t;
}

/* --- the rows ------------------------------------------------------------------------------------- */

static void add_time(struct tl_text *cell, const struct tl_card_times *t, double minutes)
{
    const bool known = isfinite(minutes);
    char span[TL_ENDURE_SHOWN];
    tl_endure_span(span, known ? minutes : t->outage_d / MINUTE_D);
    if (isfinite(t->lost_before_d))
        tl_text_add(cell, "-");
    else if (t->unknown)
        tl_text_add(cell, "not known");
    else if (known)
        tl_text_add(cell, minutes < 1 ? "at once" : span);
    else
        tl_text_addf(cell, "over %s", span);
}

static void add_row(struct tl_card *c, const char *label, const char *behind,
                    const struct tl_card_times *t)
{
    struct tl_text *cell = tl_card_row(c, TL_CARD_TIMES);
    tl_text_addf(&cell[0], "%s%s", label, behind);
    add_time(&cell[1], t, t->caution_min);
    add_time(&cell[2], t, t->danger_min);
    add_time(&cell[3], t, t->lost_min);
}

/* Why there is no time in a row, where there is none: of the row that is lost first. */
static void note_lost(struct tl_text *note, const struct tl_endure_study *s, double lost_before_d)
{
    if (!isfinite(lost_before_d))
        return;
    tl_text_add(note, "-: so many fish die before, in the scenario, on ");
    tl_endure_add_moment(note, s, lost_before_d);
    tl_text_add(note, ". ");
}

static void add_level(struct tl_text *t, const char *what, double level)
{
    if (isfinite(level))
        tl_text_addf(t, "%s: oxygen below %.3g mg/L", what, level);
    else
        tl_text_addf(t, "%s: no limit is set, death counts", what);
}

double tl_card_warmest_row_degC(const struct tl_endure_study *s)
{
    const size_t i = tl_endure_row_case(TL_ENDURE_ROW_WARMER);
    if (*s->result[i].fault)
        return -INFINITY;
    return round(10 * (s->when.temperature_degC + s->plan[i].warmer_degC)) /
           10; /* as amounts are */
}

/* All rows; when fish of one of them were lost before it fails, NAN if none were. */
static double add_rows(const struct tl_endure_study *s, enum tl_unit_system units,
                       struct tl_card *c)
{
    static const enum tl_endure_row of[] = {[TL_FAILURE_POWER] = TL_ENDURE_ROW_POWER,
                                            [TL_FAILURE_PUMP] = TL_ENDURE_ROW_PUMP,
                                            [TL_FAILURE_AERATOR] = TL_ENDURE_ROW_AERATOR};
    const enum tl_failure asked = s->question.fails;
    struct tl_card_times t = tl_card_times_of(s);
    double lost_d = t.lost_before_d;
    char degC[TL_ENDURE_SHOWN], behind[TL_ENDURE_SHOWN + 16];

    add_row(c, tl_card_failure(s, asked), "", &t);
    for (int f = 0; f < TL_FAILURE_HALF; f++) {
        if ((enum tl_failure)f == asked || !tl_endure_tells(s, (enum tl_failure)f))
            continue;
        t = times_of_row(s, of[f]);
        lost_d = fmin(lost_d, t.lost_before_d);
        add_row(c, tl_card_failure(s, (enum tl_failure)f), "", &t);
    }
    tl_display_text(TL_DIM_TEMPERATURE, units, tl_card_warmest_row_degC(s), 3, degC, sizeof degC);
    (void)tl_format(behind, sizeof behind, ", water %s", degC);
    for (int r = TL_ENDURE_ROW_WARMER; r <= TL_ENDURE_ROW_FISH; r++) {
        t = times_of_row(s, (enum tl_endure_row)r);
        if (t.unknown) /* outside the range of temperatures */
            continue;
        lost_d = fmin(lost_d, t.lost_before_d);
        add_row(c, tl_card_failure(s, asked),
                r == TL_ENDURE_ROW_WARMER ? behind : ", half more fish", &t);
    }
    return lost_d;
}

void tl_card_add_times(const struct tl_endure_study *s, enum tl_unit_system units,
                       struct tl_card *out)
{
    const struct tl_limits *l = &s->scenario->limits;
    struct tl_text *head = tl_card_row(out, TL_CARD_TIMES);
    struct tl_text *note = &out->part[TL_CARD_TIMES].note;

    tl_text_add(&head[0], "What fails");
    add_level(&head[1], "Stress", l->o2.caution);
    add_level(&head[2], "Danger", l->o2.danger);
    add_level(&head[3], "Death", s->scenario->setup.params.o2_critical);
    note_lost(note, s, add_rows(s, units, out));
    const double warmest_degC = fmax(s->when.temperature_degC, tl_card_warmest_row_degC(s));
    char degC[TL_ENDURE_SHOWN];
    tl_display_text(TL_DIM_TEMPERATURE, units, warmest_degC, 3, degC, sizeof degC);
    tl_text_addf(note,
                 "Calculated, not measured: act at once, never wait. In water warmer than %s, or "
                 "with more fish, they have less time. Gasping fish are in danger whatever stands "
                 "here.",
                 degC);
}
