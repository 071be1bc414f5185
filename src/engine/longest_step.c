/* How long a step may be whatever the control of the error says. */
#include "loop.h"
#include "sky.h"
#include "stepping.h"
#include "tower_kernel.h"
#include "towerloop/heat_course.h"

#define LONGEST_D 0.1  /* keeps interpolation and table-driven temperatures honest */
#define WEATHER_D 0.04 /* the balance of heat has bends of its own, where ice comes and goes */

/* In the sun algae grow from next to nothing, by a light that follows the hour: what a step misses of
 * it grows with them for weeks, and the control, which sees one step, cannot know. */
#define SUNLIT_D 0.008

double tl_longest_step_d(const struct tl_model *m, double t_d)
{
    const double dark_d = tl_model_heat(m) ? WEATHER_D : LONGEST_D;
    struct tl_sky now;
    struct tl_sky soon;

    if (tl_model_form(m)->lit == 0)
        return dark_d;
    tl_model_sky(m, t_d, &now);
    tl_model_sky(m, t_d + dark_d, &soon);
    return now.tower + now.tank + soon.tower + soon.tank > 0 ? SUNLIT_D : dark_d;
}
