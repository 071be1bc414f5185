/* Fish that get nothing to eat in a run, or nothing any more. */
#include "unfed.h"

#include <math.h>
#include <stdbool.h>

#include "text.h"
#include "towerloop/units.h"

static bool feeds(const struct tl_ration *r)
{
    bool any = r->kind != TL_RATION_TABLE && r->value > 0;
    for (size_t i = 0; r->kind == TL_RATION_TABLE && i < r->table.n; i++)
        any = any || r->table.y[i] > 0;
    return any;
}

static bool ration_feeds(const struct tl_setup *s)
{
    bool any = feeds(&s->feeding.ration);
    for (size_t i = 0; i < s->events; i++)
        any = any || (s->event[i].kind == TL_EVENT_RATION && feeds(&s->event[i].ration));
    return any && s->feeding.meals > 0;
}

static void add_days(struct tl_text *out, double days, const char *which)
{
    char text[32];
    tl_display_text(TL_DIM_TIME, TL_METRIC, days, 3, text, sizeof text);
    tl_text_addf(out, "the %s %s", which, text);
}

/* The first and the last meal of the log within the run; NAN: there is none. */
static void find_meals(const struct tl_setup *s, double *first_d, double *last_d)
{
    const struct tl_table *log = &s->feeding.log;
    *first_d = *last_d = NAN;
    for (size_t i = 0; i < log->n; i++) {
        if (!(log->y[i] > 0) || log->x[i] < s->start_d || log->x[i] >= s->start_d + s->length_d)
            continue;
        *first_d = isnan(*first_d) ? log->x[i] : *first_d;
        *last_d = log->x[i];
    }
}

void tl_unfed_say(const struct tl_setup *s, struct tl_text *out)
{
    const bool logged = s->feeding.log.n > 0;
    double first_d, last_d;
    if (!tl_setup_ever_fish(s))
        return;
    find_meals(s, &first_d, &last_d);
    const char *blank = out->length > 0 ? " " : "";
    if (!(s->feeding.appetite > 0) || (logged ? isnan(first_d) : !ration_feeds(s))) {
        tl_text_addf(
            out, "%sNothing is fed in this run: it cannot tell how the water goes once fish eat.",
            blank);
        return;
    }
    if (!logged)
        return;
    const double before_d = first_d - s->start_d, after_d = s->start_d + s->length_d - last_d;
    const bool late = before_d >= TL_UNFED_DAYS, early = after_d >= TL_UNFED_DAYS;
    if (!late && !early)
        return;
    tl_text_addf(out, "%sThe log of meals has none for ", blank);
    if (late)
        add_days(out, before_d, "first");
    if (late && early)
        tl_text_add(out, " and ");
    if (early)
        add_days(out, after_d, "last");
    tl_text_add(out, ": nothing is fed then, and the verdict is that of fish that do not eat.");
}
