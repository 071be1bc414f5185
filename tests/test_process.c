/* The process table conserves what must be conserved: theoretical oxygen demand, nitrogen, carbon and
 * charge, row by row. Published matrices have been found wrong by just this check (Hauduc et al.
 * 2010, Water Sci. Technol. 61:825; from memory). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "process.h"
#include "towerloop/chem.h"

static void fill(double scale, struct tl_params *p, struct tl_process_table *t)
{
    tl_params_default(p);
    /* other values than the defaults must balance just as well */
    p->y_aob *= scale;
    p->y_nob *= scale;
    p->y_het /= scale;
    p->i_biomass *= scale;
    p->f_inert *= scale;
    p->i_algae *= scale;
    tl_process_table_fill(p, t);
}

static void rows_balance(void **state)
{
    (void)state;
    for (double scale = 1; scale < 1.4; scale += 0.15) {
        struct tl_params p;
        struct tl_process_table t;
        fill(scale, &p, &t);
        for (int r = 0; r < TL_NPROCESS; r++) {
            const double *nu = t.nu[r];
            double demand = -3.43 * nu[TL_NO2] - 4.57 * nu[TL_NO3] - nu[TL_O2] -
                            (4.57 - 2.86) * nu[TL_COLUMN_N2];
            double nitrogen = nu[TL_TAN] + nu[TL_NO2] + nu[TL_NO3] + nu[TL_COLUMN_N2];
            double carbon = nu[TL_TIC];
            double charge = (nu[TL_TAN] - nu[TL_NO2] - nu[TL_NO3]) / TL_N_G_PER_MOL - nu[TL_ALK];
            for (int c = 0; c < TL_NCOLUMN; c++) {
                int biomass = c >= TL_COLUMN_FILM && c <= TL_COLUMN_FILM + TL_FH;
                int organic = biomass || c == TL_SS || c == TL_XS || c == TL_XI ||
                              (c > TL_COLUMN_FILM + TL_FH && c != TL_COLUMN_N2);
                if (!organic)
                    continue;
                demand += nu[c];
                nitrogen += nu[c] * (biomass                ? p.i_biomass
                                     : c == TL_COLUMN_ALGAE ? p.i_algae
                                                            : p.i_organics);
                carbon += nu[c] / 32;
            }
            near(demand, 0, 1e-12);
            near(nitrogen, 0, 1e-12);
            near(carbon, 0, 1e-12);
            near(charge, 0, 1e-12);
        }
    }
}

/* Every process turns something over (nitrate counts as what it burns), and none touches chloride or chlorine. */
static void no_row_is_empty(void **state)
{
    (void)state;
    struct tl_params p;
    struct tl_process_table t;
    fill(1, &p, &t);
    for (int r = 0; r < TL_NPROCESS; r++) {
        double sum = 0;
        for (int c = 0; c < TL_NCOLUMN; c++)
            sum += fabs(t.nu[r][c]) * (c == TL_NO3 || c == TL_COLUMN_N2 ? 2.86 : 1);
        assert_true(sum >= 2);
        near(t.nu[r][TL_CL], 0, 0);
        near(t.nu[r][TL_HOCL], 0, 0);
    }
}

/* Oxygen and alkalinity for the two steps together: 4.57 g O2 per gN less what the yields keep
 * (stoichiometry after Hiatt & Grady 2008), 2 eq per mol N (7.14 mg CaCO3 per mg N, Metcalf & Eddy). */
static void nitrification_as_a_whole(void **state)
{
    (void)state;
    struct tl_params p;
    struct tl_process_table t;
    fill(1, &p, &t);
    const double *a = t.nu[TL_GROW_A];
    const double *n = t.nu[TL_GROW_N];
    double o2 = -(a[TL_O2] / a[TL_NO2] - n[TL_O2] / n[TL_NO2]);
    near(o2, 4.57 - p.y_aob - p.y_nob, 1e-12);
    /* without what biomass takes up, per gN oxidised */
    double alk = -a[TL_ALK] * p.y_aob * TL_CACO3_G_PER_EQ;
    near(alk, 7.14 * (1 + 0.5 * p.y_aob * p.i_biomass), 0.01);
}

/* Nitrate to nitrogen gas takes up 5 of the electrons that oxygen takes 4 of, 2.86 gCOD/gN, and gives one
 * eq of alkalinity a mol, 3.57 mg CaCO3 per mg N (both Metcalf & Eddy, Wastewater Engineering). All of the
 * nitrate becomes gas. */
static void denitrification(void **state)
{
    (void)state;
    struct tl_params p;
    struct tl_process_table t;
    fill(1, &p, &t);
    const double *growth = t.nu[TL_GROW_H_NO3];
    const double *sludge = t.nu[TL_SLUDGE_ON_NO3];
    const double burnt = -growth[TL_SS] - growth[TL_COLUMN_FILM + TL_FH];
    near(burnt / -growth[TL_NO3], 2.86, 0.005);
    near(sludge[TL_COLUMN_SLUDGE_S] / sludge[TL_NO3], 2.86, 0.005);
    near(growth[TL_COLUMN_N2] + growth[TL_NO3], 0, 1e-15);
    near(sludge[TL_COLUMN_N2] + sludge[TL_NO3], 0, 1e-15);
    for (int i = 0; i < 2; i++) {
        const double *nu = i ? sludge : growth;
        const double of_ammonia = nu[TL_TAN] / TL_N_G_PER_MOL;
        near(TL_CACO3_G_PER_EQ * (nu[TL_ALK] - of_ammonia) / -nu[TL_NO3], 3.57, 0.005);
        near(nu[TL_O2], 0, 0);
    }
    /* as fast growing as on oxygen, from the same food */
    near(growth[TL_SS], t.nu[TL_GROW_H][TL_SS], 0);
}

/* Algae by Redfield et al. 1963: C106 H263 O110 N16 P from ammonium gives 106 mol of oxygen, from
 * nitrate 138 (two more each of 16 mol N), and takes 106 mol of carbon. */
static void algae_after_redfield(void **state)
{
    (void)state;
    struct tl_params p;
    struct tl_process_table t;
    fill(1, &p, &t);
    const double *tan = t.nu[TL_ALGAE_ON_TAN];
    const double *no3 = t.nu[TL_ALGAE_ON_NO3];
    near_rel(p.i_algae, 16 * TL_N_G_PER_MOL / (106 * 32), 0.002);
    near_rel(-tan[TL_O2] / (32 * tan[TL_TIC]), 1, 1e-12);
    near_rel(no3[TL_O2] / tan[TL_O2], 138.0 / 106, 0.002);
    /* 16 eq of alkalinity lost with ammonium, won with nitrate, for 106 mol of carbon */
    near_rel(tan[TL_ALK] / tan[TL_TIC], 16.0 / 106, 0.002);
    near_rel(no3[TL_ALK] / no3[TL_TIC], -16.0 / 106, 0.002);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_balance),
        cmocka_unit_test(no_row_is_empty),
        cmocka_unit_test(nitrification_as_a_whole),
        cmocka_unit_test(denitrification),
        cmocka_unit_test(algae_after_redfield),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
