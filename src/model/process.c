/* The process table as the textbook matrix: row = process, column = component.
 *
 * Stoichiometry after Hiatt & Grady 2008 (two-step nitrification) and the activated sludge models
 * (Henze et al. 2000) for heterotrophs and decay; algae as Redfield et al. 1963 have them, with
 * nitrate given back its oxygen (4.57 g a gN). Nitrate goes to nitrogen gas in one step, as in ASM1 (Henze
 * et al. 2000). Alkalinity and inorganic carbon have no numbers of their own: they follow from charge and
 * carbon. Rates stand in film.h, loop_kernel.h and algae_kernel.h. */
#include "process.h"

#include "towerloop/chem.h"

const char *tl_process_name(int process)
{
    static const char *const name[TL_NPROCESS] = {
#define TL_PROCESS_NAME(id, text) [id] = (text),
        TL_PROCESS_LIST(TL_PROCESS_NAME)
#undef TL_PROCESS_NAME
    };
    return name[process];
}

int tl_column_is_organic(int column)
{
    return column == TL_SS || column == TL_XS || column == TL_XI ||
           (column >= TL_COLUMN_FILM && column != TL_COLUMN_N2);
}

double tl_column_nitrogen(const struct tl_params *p, int column)
{
    if (column == TL_TAN || column == TL_NO2 || column == TL_NO3 || column == TL_COLUMN_N2)
        return 1;
    if (column >= TL_COLUMN_FILM + TL_FA && column <= TL_COLUMN_FILM + TL_FH)
        return p->i_biomass;
    if (column == TL_COLUMN_ALGAE)
        return p->i_algae;
    return tl_column_is_organic(column) ? p->i_organics : 0;
}

void tl_process_table_fill(const struct tl_params *p, struct tl_process_table *t)
{
    const double ya = p->y_aob;
    const double yn = p->y_nob;
    const double yh = p->y_het;
    const double ib = p->i_biomass;
    const double ix = p->i_organics;
    const double fi = p->f_inert;
    const double fs = 1 - fi;
    const double freed = ib - ix; /* nitrogen freed when biomass turns into solids */
    const double ia = p->i_algae;
    const double ds = 1 / TL_COD_PER_NITRATE; /* nitrate for 1 gCOD burnt */
    const double dh = (1 / yh - 1) * ds;      /* and for 1 gCOD of growth */

    /* clang-format off */
    const struct {
        enum tl_process process;
        double tan,        no2,     no3,  o2,            ss,      xs,  xi,  fa,  fn,  fh,  f_s, f_i, s_s, s_i, alg, n2;
    } row[] = {
    /*                     TAN          NO2     NO3   O2             SS     XS   XI   F_A  F_N  F_H  F_S  F_I  S_s  S_i  Alg  N2 */
    {TL_GROW_A,            -1/ya - ib,  1/ya,   0,    1 - 3.43/ya,   0,     0,   0,   1,   0,   0,   0,   0,   0,   0,   0,   0},
    {TL_GROW_N,            -ib,         -1/yn,  1/yn, 1 - 1.14/yn,   0,     0,   0,   0,   1,   0,   0,   0,   0,   0,   0,   0},
    {TL_GROW_H,            ix/yh - ib,  0,      0,    1 - 1/yh,      -1/yh, 0,   0,   0,   0,   1,   0,   0,   0,   0,   0,   0},
    {TL_DECAY_A,           freed,       0,      0,    0,             0,     0,   0,   -1,  0,   0,   fs,  fi,  0,   0,   0,   0},
    {TL_DECAY_N,           freed,       0,      0,    0,             0,     0,   0,   0,   -1,  0,   fs,  fi,  0,   0,   0,   0},
    {TL_DECAY_H,           freed,       0,      0,    0,             0,     0,   0,   0,   0,   -1,  fs,  fi,  0,   0,   0,   0},
    {TL_DETACH_A,          freed,       0,      0,    0,             0,     fs,  fi,  -1,  0,   0,   0,   0,   0,   0,   0,   0},
    {TL_DETACH_N,          freed,       0,      0,    0,             0,     fs,  fi,  0,   -1,  0,   0,   0,   0,   0,   0,   0},
    {TL_DETACH_H,          freed,       0,      0,    0,             0,     fs,  fi,  0,   0,   -1,  0,   0,   0,   0,   0,   0},
    {TL_HYDROLYSE_FILM,    0,           0,      0,    0,             1,     0,   0,   0,   0,   0,   -1,  0,   0,   0,   0,   0},
    {TL_SLOUGH_S,          0,           0,      0,    0,             0,     1,   0,   0,   0,   0,   -1,  0,   0,   0,   0,   0},
    {TL_SLOUGH_I,          0,           0,      0,    0,             0,     0,   1,   0,   0,   0,   0,   -1,  0,   0,   0,   0},
    {TL_GROW_H_NO3,        ix/yh - ib,  0,      -dh,  0,             -1/yh, 0,   0,   0,   0,   1,   0,   0,   0,   0,   0,   dh},
    {TL_HYDROLYSE_WATER,   0,           0,      0,    0,             1,     -1,  0,   0,   0,   0,   0,   0,   0,   0,   0,   0},
    {TL_SETTLE_S,          0,           0,      0,    0,             0,     -1,  0,   0,   0,   0,   0,   0,   1,   0,   0,   0},
    {TL_SETTLE_I,          0,           0,      0,    0,             0,     0,   -1,  0,   0,   0,   0,   0,   0,   1,   0,   0},
    {TL_SLUDGE_TO_ORGANICS,0,           0,      0,    0,             1,     0,   0,   0,   0,   0,   0,   0,   -1,  0,   0,   0},
    {TL_SLUDGE_OXIDISED,   ix,          0,      0,    -1,            0,     0,   0,   0,   0,   0,   0,   0,   -1,  0,   0,   0},
    {TL_SLUDGE_ON_NO3,     ix,          0,      -ds,  0,             0,     0,   0,   0,   0,   0,   0,   0,   -1,  0,   0,   ds},
    {TL_CAPTURE_S,         0,           0,      0,    0,             0,     -1,  0,   0,   0,   0,   1,   0,   0,   0,   0,   0},
    {TL_CAPTURE_I,         0,           0,      0,    0,             0,     0,   -1,  0,   0,   0,   0,   1,   0,   0,   0,   0},
    {TL_ALGAE_ON_TAN,      -ia,         0,      0,    1,             0,     0,   0,   0,   0,   0,   0,   0,   0,   0,   1,   0},
    {TL_ALGAE_ON_NO3,      0,           0,      -ia,  1 + 4.57*ia,   0,     0,   0,   0,   0,   0,   0,   0,   0,   0,   1,   0},
    {TL_ALGAE_RESPIRE,     ia,          0,      0,    -1,            0,     0,   0,   0,   0,   0,   0,   0,   0,   0,   -1,  0},
    {TL_ALGAE_DIE,         ia - ix,     0,      0,    0,             0,     fs,  fi,  0,   0,   0,   0,   0,   0,   0,   -1,  0},
    };
    /* clang-format on */
    _Static_assert(sizeof row / sizeof row[0] == TL_NPROCESS, "one row for every process");

    for (int i = 0; i < TL_NPROCESS; i++) {
        double *nu = t->nu[row[i].process];
        for (int c = 0; c < TL_NCOLUMN; c++)
            nu[c] = 0;
        nu[TL_TAN] = row[i].tan;
        nu[TL_NO2] = row[i].no2;
        nu[TL_NO3] = row[i].no3;
        nu[TL_O2] = row[i].o2;
        nu[TL_SS] = row[i].ss;
        nu[TL_XS] = row[i].xs;
        nu[TL_XI] = row[i].xi;
        nu[TL_COLUMN_FILM + TL_FA] = row[i].fa;
        nu[TL_COLUMN_FILM + TL_FN] = row[i].fn;
        nu[TL_COLUMN_FILM + TL_FH] = row[i].fh;
        nu[TL_COLUMN_FILM + TL_FS] = row[i].f_s;
        nu[TL_COLUMN_FILM + TL_FI] = row[i].f_i;
        nu[TL_COLUMN_SLUDGE_S] = row[i].s_s;
        nu[TL_COLUMN_SLUDGE_I] = row[i].s_i;
        nu[TL_COLUMN_ALGAE] = row[i].alg;
        nu[TL_COLUMN_N2] = row[i].n2;

        /* charge: ammonium +1, nitrite and nitrate -1 per mol N */
        nu[TL_ALK] = (nu[TL_TAN] - nu[TL_NO2] - nu[TL_NO3]) / TL_N_G_PER_MOL;
        /* carbon: what organic matter gives up is inorganic */
        for (int c = 0; c < TL_NCOLUMN; c++)
            if (tl_column_is_organic(c))
                nu[TL_TIC] -= TL_CARBON_MOL_PER_GCOD * nu[c];
    }
}
