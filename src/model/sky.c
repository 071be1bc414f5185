/* Light, evaporation and ice of the moment. Model document, "Sun and algae", "Heat". */
#include <math.h>

#include "heat_balance.h"
#include "model_private.h"
#include "towerloop/heat_course.h"

void tl_model_sky(const struct tl_model *m, double t_d, struct tl_sky *out)
{
    const struct tl_sun *sun = &m->setup.sun;
    const double from_noon = (t_d - floor(t_d) - 0.5) / sun->hours_d;
    double light = 0;

    if (sun->given && m->setup.weather.given)
        light = tl_weather_sun_w_m2(&m->setup.weather, t_d);
    else if (sun->given && fabs(from_noon) < 0.5)
        light = sun->noon_w_m2 * cos(M_PI * from_noon);
    out->tower = (1 - sun->shaded) * light;
    out->tank = (1 - sun->tank_shaded) * light;
    const struct tl_table *frozen = &m->setup.weather.frozen;
    out->frozen = m->heat         ? tl_heat_course_total(m->heat, m->heat->frozen, t_d)
                  : frozen->n > 0 ? tl_table_at(frozen, t_d)
                                  : 0;
    out->evaporates_m3_d = m->heat ? tl_heat_course_evaporation_m3_d(m->heat, t_d) : 0;
}

void tl_work_sky(const struct tl_model *m, struct tl_work *w, double t_d)
{
    if (m->form.lit > 0 || m->heat || m->setup.weather.frozen.n > 0)
        tl_model_sky(m, t_d, &w->sky);
}
