/* How full of film and solids the trays are, and of sludge the settling chamber. What that does to the
 * water: film.h, loop_kernel.h. */
#include "model_private.h"

double tl_voids_filled(const struct tl_model *m, const double *film_g, int cells)
{
    double all_g = 0;
    for (int i = 0; i < cells * TL_NFILM; i++)
        all_g += film_g[i];
    return all_g / (cells * m->site.cell_full_g);
}

double tl_voids_spread(const struct tl_model *m, const double *film_g)
{
    double spread, room;
    tl_film_clogging(&m->film.p, tl_voids_filled(m, film_g, 1), &spread, &room);
    return spread;
}

double tl_model_voids_filled(const struct tl_model *m, const double *y, int tray)
{
    return tl_voids_filled(m, &y[m->at.cell + (size_t)(tray * m->cells_per_tray * TL_NFILM)],
                           m->cells_per_tray);
}

double tl_model_voids_spread(const struct tl_model *m, const double *y, int tray)
{
    double sum = 0;
    for (int j = tray * m->cells_per_tray; j < (tray + 1) * m->cells_per_tray; j++)
        sum += tl_voids_spread(m, &y[m->at.cell + (size_t)(j * TL_NFILM)]);
    return sum / m->cells_per_tray;
}

double tl_model_chamber_filled(const struct tl_model *m, const double *y)
{
    return (y[m->at.sludge] + y[m->at.sludge + 1]) /
           (m->setup.params.film_density * m->setup.chamber.volume_m3);
}

double tl_model_oxidisers_g(const struct tl_model *m, const double *y)
{
    double sum_g = 0;
    for (int i = 0; i < m->cells; i++)
        sum_g += y[m->at.cell + (size_t)(i * TL_NFILM + TL_FA)];
    return sum_g;
}
