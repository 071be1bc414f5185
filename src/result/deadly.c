/* Water in which no fish are safe, whatever limits a scenario sets. */
#include "deadly.h"

#include <math.h>

#include "text.h"
#include "towerloop/units.h"

#define TIMES         5.0
#define TIMES_SALT    2.0
#define PH_BEYOND     1.5
#define DEGREES_BELOW 1.5 /* to 0 degC */
#define DEGREES_ABOVE 2.0 /* 37 degC: half of all carp die (see limits.c) */

double tl_deadly_from(enum tl_limit_id id)
{
    struct tl_limits l;
    tl_limits_default(&l);
    switch (id) {
    case TL_LIMIT_NH3:
        return TIMES * l.nh3.danger;
    case TL_LIMIT_NO2:
        return TIMES * l.no2_danger_with_salt;
    case TL_LIMIT_CO2:
        return TIMES * l.co2.danger;
    case TL_LIMIT_CHLORINE:
        return TIMES * l.chlorine.danger;
    case TL_LIMIT_CHLORIDE:
        return TIMES_SALT * l.chloride.danger;
    case TL_LIMIT_O2:
        return l.o2.danger / TIMES;
    case TL_LIMIT_PH_LOW:
        return l.ph_low.danger - PH_BEYOND;
    case TL_LIMIT_PH_HIGH:
        return l.ph_high.danger + PH_BEYOND;
    case TL_LIMIT_COLD:
        return l.cold.danger - DEGREES_BELOW;
    case TL_LIMIT_WARM:
        return l.warm.danger + DEGREES_ABOVE;
    default:
        return NAN;
    }
}

static bool is_deadly(const struct tl_verdict *v, int id)
{
    const double from = tl_deadly_from((enum tl_limit_id)id), worst = v->limit[id].worst;
    return v->limit[id].judged && (v->limit[id].below ? worst <= from : worst >= from);
}

bool tl_deadly(const struct tl_verdict *v)
{
    bool any = false;
    for (int i = 0; i < TL_NLIMIT; i++)
        any = any || is_deadly(v, i);
    return any;
}

void tl_deadly_say(const struct tl_verdict *v, struct tl_text *out)
{
    int n = 0;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *l = &v->limit[i];
        char worst[32];
        if (!is_deadly(v, i) || l->grade == TL_DANGER)
            continue;
        if (n++ == 0)
            tl_text_addf(out, "%sThis harms or kills fish whatever limits are set:",
                         out->length > 0 ? " " : "");
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, l->worst, 3, worst, sizeof worst);
        tl_text_addf(out, "%s %s %s%s%s", n > 1 ? "," : "", l->name, worst, *l->unit ? " " : "",
                     l->unit);
    }
    if (n > 0)
        tl_text_add(out, ".");
}
