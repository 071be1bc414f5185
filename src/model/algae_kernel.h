/* Algae in the light: stringy mats on the trays and green water in the tank, in one lane or many
 * (lanes.h). Model document, section "Sun and algae".
 *
 * Both grow by the same rows of the process table. Ammonium is taken first, nitrate with what it
 * leaves. */
#ifndef TL_MODEL_ALGAE_KERNEL_H
#define TL_MODEL_ALGAE_KERNEL_H

#include "film.h"
#include "layout.h"
#include "sky.h"

/* What the water leaves of the growth rate, 1/d, in light enough. */
struct tl_algae_water {
    real on_tan, on_no3; /* by what they take their nitrogen from */
    real breathes;       /* share of respiration that the oxygen allows */
};

/* In water of this [H+], mol/L. Carbon is had from carbon dioxide and bicarbonate, not from carbonate. */
static inline struct tl_algae_water
tl_algae_water(const struct tl_film_model *f, const struct tl_climate *c, const real *water, real h)
{
    const struct lane_params *p = &f->p;
    const real tan = tl_positive(water[TL_TAN]);
    const real no3 = tl_positive(water[TL_NO3]);
    const real o2 = tl_positive(water[TL_O2]);
    const real free = h * h + c->k.k1 * h;
    const real carbon = tl_positive(water[TL_TIC]) * free / (free + c->k.k1 * c->k.k2);
    const real per_n = 1 / (p->k_n_algae + tan);
    const real rate = c->algae_growth * carbon / (p->k_c_algae + carbon);

    return (struct tl_algae_water){
        .on_tan = rate * tan * per_n,
        .on_no3 = rate * p->k_n_algae * per_n * no3 / (p->k_n_algae + no3),
        .breathes = o2 / (p->ko2_het + o2),
    };
}

/* Share of the growth rate that light leaves, and the same on average over a depth of water:
 *
 *     I/(K + I),    1/(k H) ln((K + I0)/(K + I0 exp(-k H))) */
static inline real tl_algae_in_light(const struct tl_film_model *f, real light)
{
    return light / (f->p.light_algae + light);
}
static inline real tl_algae_in_depth(const struct tl_film_model *f, real light, real algae_g_m3,
                                     real depth_m)
{
    const struct lane_params *p = &f->p;
    const real dimmed = (p->dim_water + p->dim_algae * algae_g_m3) * depth_m;
    const real below = light * lane_exp(-dimmed);
    return lane_log((p->light_algae + light) / (p->light_algae + below)) / dimmed;
}

/* Share of a tray's open face that a mat of this mass (gCOD per m2 of it) covers. */
static inline real tl_algae_cover(const struct tl_film_model *f, real mat_g_m2)
{
    return 1 - lane_exp(-tl_positive(mat_g_m2) / f->p.cover_algae);
}

/* What is left of the wetted area of all trays under a mat on the top one that spoils the spread. */
static inline real tl_algae_spread(const struct tl_film_model *f, real plan_m2, real top_mat_g)
{
    return 1 - f->p.spread_algae * tl_algae_cover(f, top_mat_g / plan_m2);
}

/* Adds what the extents of the algae (TL_NALGAE_PROCESS in their order, gCOD/d) do to a water, per day. */
static inline void tl_algae_book(const struct tl_film_model *f, const real *extent, real *dmass)
{
    for (int i = 0; i < TL_NALGAE_PROCESS; i++)
        for (int k = 0; k < TL_CL; k++)
            dmass[k] += f->table.nu[TL_ALGAE_ON_TAN + i][k] * extent[i];
}

/* The mats on the trays under running water: `mat` their masses, gCOD. Adds what they do to the water
 * that comes down on the first tray to `dmass`; their derivatives and extents go to `dmat`, `extent`.
 * A mat grows on the open face of its tray: all of the first, and of each one below a share of that of
 * the tray above. */
static inline void tl_algae_on_trays(const struct tl_film_model *f, const struct tl_climate *c,
                                     real plan_m2, real light, const real *water, real h,
                                     size_t trays, const real *mat, real *dmass, real *dmat,
                                     real *extent)
{
    const struct lane_params *p = &f->p;
    const struct tl_algae_water in = tl_algae_water(f, c, water, h);
    const real lit = tl_algae_in_light(f, light);
    const real respired = c->algae_respiration * in.breathes;
    real sum[TL_NALGAE_PROCESS];
    real open_m2 = plan_m2;

    for (int i = 0; i < TL_NALGAE_PROCESS; i++)
        sum[i] = lane_all(0);
    for (size_t j = 0; j < trays; j++) {
        const real density = tl_positive(mat[j]) / open_m2;
        const real grows =
            lit * open_m2 * (density + p->attach_algae) / (1 + density / p->mat_algae);
        const real breathed = respired * mat[j];
        const real torn = c->algae_death * mat[j];

        const real did[TL_NALGAE_PROCESS] = {in.on_tan * grows, in.on_no3 * grows, breathed, torn};

        for (int i = 0; i < TL_NALGAE_PROCESS; i++)
            sum[i] += did[i];
        dmat[j] = (in.on_tan + in.on_no3) * grows - breathed - torn;
        open_m2 = open_m2 * p->edge_algae;
    }
    tl_algae_book(f, sum, dmass);
    for (int i = 0; i < TL_NALGAE_PROCESS; i++)
        extent[i] = sum[i];
}

/* Green water of `green` gCOD, the same in tank and chamber: the chamber follows within minutes. It
 * grows in the tank's share of it and deals with the tank's water alone. */
static inline void tl_algae_in_tank(const struct tl_film_model *f, const struct tl_climate *c,
                                    real light, const real *water, real h, real tank_m3,
                                    real surface_m2, real both_m3, real green, real *dmass,
                                    real *dgreen, real *extent)
{
    const struct tl_algae_water in = tl_algae_water(f, c, water, h);
    const real algae_g_m3 = tl_positive(green) / both_m3;
    const real grows =
        tl_algae_in_depth(f, light, algae_g_m3, tank_m3 / surface_m2) * algae_g_m3 * tank_m3;

    const real did[TL_NALGAE_PROCESS] = {in.on_tan * grows, in.on_no3 * grows,
                                         c->algae_respiration * in.breathes * green,
                                         c->algae_death * green};
    for (int i = 0; i < TL_NALGAE_PROCESS; i++)
        extent[i] = did[i];
    tl_algae_book(f, extent, dmass);
    *dgreen = lane_all(0);
    for (int i = 0; i < TL_NALGAE_PROCESS; i++)
        *dgreen += f->table.nu[TL_ALGAE_ON_TAN + i][TL_COLUMN_ALGAE] * extent[i];
}

#endif
