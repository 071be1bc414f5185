/* Looks on while the media fill and oxygen runs short. */
#include "towerloop/bed.h"

#include <math.h>

#include "loop.h"
#include "towerloop/status.h"

#define UNDER_WATER_D (1.0 / 24)
#define IN_AIR_D      (6.0 / 24)
#define SLACK_D       1e-9 /* of the instants of the samples */

void tl_bed_watch_begin(struct tl_bed_watch *w, const struct tl_model *m)
{
    const struct tl_bed_extreme none = {NAN, NAN, 0};
    const struct tl_bed_spell never = {0, NAN};

    *w = (struct tl_bed_watch){
        .result = {tl_model_setup(m)->tower.submerged, none, none, none, never, never},
        .bed_since_d = NAN,
        .chamber_since_d = NAN};
}

bool tl_bed_sulfide(const struct tl_bed_result *r)
{
    return !isnan(r->bed.first_d) || !isnan(r->chamber.first_d);
}

/* Another moment of a spell, or the end of it; `*since_d` is when it began. */
static void follow(struct tl_bed_spell *spell, bool without, double t_d, double *since_d)
{
    if (!without) {
        *since_d = NAN;
        return;
    }
    if (isnan(*since_d))
        *since_d = t_d;
    const double h = 24 * (t_d - *since_d);
    spell->longest_h = fmax(spell->longest_h, h);
    if (isnan(spell->first_d) && h >= TL_WITHOUT_H - 24 * SLACK_D)
        spell->first_d = *since_d;
}

static bool without_either(double o2, double no3)
{
    return o2 < TL_WITHOUT_O2_G_M3 && no3 < TL_WITHOUT_NO3_G_M3;
}

/* `sign` 1: the largest counts, -1: the smallest. */
static void keep(struct tl_bed_extreme *e, double sign, double value, double t_d, int tray)
{
    if (isnan(e->value) || sign * value > sign * e->value)
        *e = (struct tl_bed_extreme){value, t_d, tray};
}

/* Media under water that stand still have used up what was in it before the spell is worth a warning. */
static void look_at_standing_bed(struct tl_bed_watch *w, const struct tl_controls *c, double t_d)
{
    if (isnan(w->bed_since_d) && !isnan(c->dry_since_d))
        w->bed_since_d = c->dry_since_d;
    follow(&w->result.bed, w->result.submerged, t_d, &w->bed_since_d);
}

int tl_bed_watch_add(struct tl_bed_watch *w, const struct tl_model *m, struct tl_work *work,
                     const struct tl_controls *c, double t_d, const double *y)
{
    struct tl_bed_result *r = &w->result;
    const double *chamber = &y[tl_model_layout(m)->chamber];
    const double every_d = r->submerged ? UNDER_WATER_D : IN_AIR_D;

    follow(&r->chamber, without_either(chamber[TL_O2], chamber[TL_NO3]), t_d, &w->chamber_since_d);
    if (!(tl_tower_flow_m3_d(m, c) > 0)) {
        look_at_standing_bed(w, c, t_d);
        return TL_OK;
    }
    if (fabs(t_d - every_d * round(t_d / every_d)) > SLACK_D)
        return TL_OK;
    int status = tl_model_cross_bed(m, work, c, t_d, y);
    if (status)
        return status;
    bool without = false;
    for (int tray = 1; tray <= tl_model_setup(m)->tower.trays; tray++) {
        struct tl_tray_glance g;
        tl_model_tray(m, work, y, tray, &g);
        keep(&r->least_o2, -1, g.o2_g_m3, t_d, tray);
        keep(&r->most_filled, 1, g.filled, t_d, tray);
        keep(&r->most_airless, 1, g.airless, t_d, tray);
        without = without || without_either(g.o2_g_m3, g.no3_g_m3);
    }
    follow(&r->bed, without, t_d, &w->bed_since_d);
    return TL_OK;
}
