/* The limits in one lane or many (lanes.h); limits.h says what they are. */
#ifndef TL_SCENARIO_LIMITS_KERNEL_H
#define TL_SCENARIO_LIMITS_KERNEL_H

#include "lanes.h"
#include "towerloop/limits.h"

#if TL_WIDE == 1
#define lane_limit_pair tl_limit_pair
#define lane_limits     tl_limits
#else
struct lane_limit_pair {
    real caution, danger;
};
struct lane_limits { /* in the order of struct tl_limits */
    struct lane_limit_pair nh3;
    real tan_caution, tan_danger;
    struct lane_limit_pair no2;
    real no2_chloride_ratio, no2_danger_with_salt;
    struct lane_limit_pair no3, o2, ph_low, ph_high, ph_swing, alk, co2, chlorine, chloride;
    struct lane_limit_pair cold, warm, hour_change, day_change;
    real ready_tan, ready_no2;
};
_Static_assert(sizeof(struct lane_limits) == sizeof(struct tl_limits) * TL_WIDE,
               "the limits in lanes are not those of one");
#endif

static inline real lane_nitrite_danger(const struct lane_limits *l, real chloride_g_m3)
{
    return lane_min(l->no2_danger_with_salt,
                    lane_max(l->no2.danger, chloride_g_m3 / l->no2_chloride_ratio));
}

#endif
