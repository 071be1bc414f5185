/* How much of the trays algae cover, and what takes them out of the loop. How they grow:
 * algae_kernel.h. */
#include <math.h>

#include "model_private.h"

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
