/* The limits a verdict judges by when a scenario names no others: model document, section 12. */
#include "towerloop/limits.h"

#include "limits_kernel.h"
#include "towerloop/chem.h"

#include <math.h>

#define MEQ_PER_MG_CACO3 (1 / 50.04)

void tl_limits_default(struct tl_limits *l)
{
    *l = (struct tl_limits){
        .nh3 = {0.02, 0.05}, /* published guidance 0.02-0.05 mg/L as N */
        .tan_caution = NAN,  /* EPA 2013 chronic, mussels absent */
        .tan_danger = NAN,   /* EPA 2013 acute, salmonids absent */
        .no2 = {0.2, 0.5},   /* caution and ratio published guidance, rest judgement */
        .no2_chloride_ratio = 10,
        .no2_danger_with_salt = 5,
        .no3 = {40, 100},       /* judgement inside published 11-200 */
        .o2 = {6, 3},           /* judgement inside published guidance */
        .ph_low = {7.0, 6.0},   /* published guidance; danger judgement */
        .ph_high = {8.5, 9.0},  /* same */
        .ph_swing = {0.5, 1.0}, /* common practice, no source */
        .alk = {70 * MEQ_PER_MG_CACO3, 40 * MEQ_PER_MG_CACO3}, /* 4 dH; Biesterfeld et al. 2003 */
        .co2 = {15, 30},            /* handbook 15-20 (from memory); danger judgement */
        .chlorine = {0.011, 0.019}, /* EPA criteria, chronic and acute */
        /* 5 and 9 g/L of salt, judgement: from 6 on carp live by profound changes of gill and kidney
         * (Salati et al. 2011, authors from memory), at 12 all fingerlings died in summer
         * and autumn and half of them in winter (Mangat & Hundal 2014, abstract) */
        .chloride = {3000, 5500},
        /* Judgement: carp winter at 4 degC; at 0 there is ice. */
        .cold = {3, 1.5},
        /* Judgement below what is published: they seek out 27.4 to 31.2 degC and half of them die at
         * 37.3 (abstracts only). */
        .warm = {30, 35},
        /* 2 degC an hour and 5 a day: common practice, no source. Danger judgement: a sudden drop by 7
         * degC, the least that was tried, is stress to carp (Tanck et al. 2000, abstract), by 11 it kills
         * skin and gill (Hodkovicova et al. 2020, abstract). */
        .hour_change = {2, 5},
        .day_change = {5, 10},
        .ready_tan = 1.0, /* common practice, no source */
        .ready_no2 = 0.5, /* same */
    };
}

int tl_limits_changed(const struct tl_limits *l)
{
    struct tl_limits dflt;
    const double *a = (const double *)l, *b = (const double *)&dflt; /* reals throughout */
    int changed = 0;
    tl_limits_default(&dflt);
    for (size_t i = 0; i < sizeof dflt / sizeof *b; i++)
        changed += !(a[i] == b[i] || (isnan(a[i]) && isnan(b[i])));
    return changed;
}

double tl_nitrite_danger(const struct tl_limits *l, double chloride_g_m3)
{
    return lane_nitrite_danger(l, chloride_g_m3);
}

double tl_soda_most_tan_gN_m3(const struct tl_limits *l, double t_degC, double ph)
{
    const double nh3 = isnan(l->nh3.caution) ? l->nh3.danger : l->nh3.caution;
    const double tan =
        isnan(l->tan_caution) ? tl_epa_ammonia_chronic(t_degC, ph, false) : l->tan_caution;
    /* fmin takes the other of the two where one is not a number */
    return fmin(nh3 / tl_nh3_fraction(t_degC, ph), tan);
}
