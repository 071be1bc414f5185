/* Where the light is, and what takes algae out of the loop. How they grow: algae_kernel.h. */
#include <math.h>

#include "heat_balance.h"
#include "model_private.h"

void tl_model_light(const struct tl_model *m, double t_d, struct tl_light *out)
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
}

void tl_work_light(const struct tl_model *m, struct tl_work *w, double t_d)
{
    if (m->form.lit > 0)
        tl_model_light(m, t_d, &w->light);
}

size_t tl_model_lit_trays(const struct tl_model *m)
{
    return m->form.lit;
}

bool tl_model_has_green_water(const struct tl_model *m)
{
    return m->form.green;
}

double tl_model_cover(const struct tl_model *m, const double *y, size_t tray)
{
    const double open = pow(m->setup.params.edge_algae, (double)tray);

    return open * tl_algae_cover(&m->film, y[m->at.mat + tray] / (open * m->site.tower_plan_m2));
}

void tl_algae_hose(const struct tl_model *m, size_t first, size_t end, double *y)
{
    for (size_t j = first; j < end && j < m->form.lit; j++) {
        y[m->at.algae_out + TL_ALGAE_HOSED] += y[m->at.mat + j];
        y[m->at.mat + j] = 0;
    }
}

void tl_algae_lose_water(const struct tl_model *m, double volume_m3, double *y)
{
    if (!m->form.green)
        return;
    const double gone =
        volume_m3 / (m->setup.tank.volume_m3 + m->setup.chamber.volume_m3) * y[m->at.green];
    y[m->at.algae_out + TL_ALGAE_OVERFLOW] += gone;
    y[m->at.green] -= gone;
}
