/* The process table: what one unit of each process does to each component. */
#ifndef TOWERLOOP_MODEL_PROCESS_H
#define TOWERLOOP_MODEL_PROCESS_H

#include "lanes.h"
#include "towerloop/component.h"
#include "towerloop/params.h"

/* Film processes come first: a film computes exactly these. The chamber adds the block after them;
 * capture belongs to the trays; algae, last, to the light. ORDER: layout.h counts on it. */
#define TL_PROCESS_LIST(X)                                                                         \
    X(TL_GROW_A, "growth of ammonia oxidisers")                                                    \
    X(TL_GROW_N, "growth of nitrite oxidisers")                                                    \
    X(TL_GROW_H, "growth of heterotrophs")                                                         \
    X(TL_DECAY_A, "decay of ammonia oxidisers")                                                    \
    X(TL_DECAY_N, "decay of nitrite oxidisers")                                                    \
    X(TL_DECAY_H, "decay of heterotrophs")                                                         \
    X(TL_DETACH_A, "detachment of ammonia oxidisers")                                              \
    X(TL_DETACH_N, "detachment of nitrite oxidisers")                                              \
    X(TL_DETACH_H, "detachment of heterotrophs")                                                   \
    X(TL_HYDROLYSE_FILM, "hydrolysis of trapped solids")                                           \
    X(TL_SLOUGH_S, "sloughing of trapped biodegradable solids")                                    \
    X(TL_SLOUGH_I, "sloughing of trapped inert solids")                                            \
    X(TL_GROW_H_NO3, "growth of heterotrophs on nitrate")                                          \
    X(TL_HYDROLYSE_WATER, "hydrolysis of suspended solids")                                        \
    X(TL_SETTLE_S, "settling of biodegradable solids")                                             \
    X(TL_SETTLE_I, "settling of inert solids")                                                     \
    X(TL_SLUDGE_TO_ORGANICS, "sludge to dissolved organics")                                       \
    X(TL_SLUDGE_OXIDISED, "oxidation of sludge")                                                   \
    X(TL_SLUDGE_ON_NO3, "oxidation of sludge by nitrate")                                          \
    X(TL_CAPTURE_S, "capture of biodegradable solids")                                             \
    X(TL_CAPTURE_I, "capture of inert solids")                                                     \
    X(TL_ALGAE_ON_TAN, "growth of algae on ammonium")                                              \
    X(TL_ALGAE_ON_NO3, "growth of algae on nitrate")                                               \
    X(TL_ALGAE_RESPIRE, "respiration of algae")                                                    \
    X(TL_ALGAE_DIE, "death of algae, tearing off of mats")

enum tl_process {
#define TL_PROCESS_ENUM(id, name) id,
    TL_PROCESS_LIST(TL_PROCESS_ENUM)
#undef TL_PROCESS_ENUM
        TL_NPROCESS,
    TL_NFILM_PROCESS = TL_GROW_H_NO3 + 1,
    TL_NWATER_PROCESS = TL_HYDROLYSE_WATER + 1, /* tank: film and suspended solids */
    TL_NCHAMBER_PROCESS = TL_SLUDGE_ON_NO3 + 1, /* chamber: these, settling and sludge */
    TL_NALGAE_PROCESS = TL_NPROCESS - TL_ALGAE_ON_TAN,
};

/* Columns: the water's components, then the film's, then the sludge's two, algae, and nitrogen gas,
 * which leaves. */
enum tl_column {
    TL_COLUMN_FILM = TL_NWATER,
    TL_COLUMN_SLUDGE_S = TL_COLUMN_FILM + TL_NFILM,
    TL_COLUMN_SLUDGE_I,
    TL_COLUMN_ALGAE,
    TL_COLUMN_N2,
    TL_NCOLUMN
};

#define TL_CARBON_MOL_PER_GCOD (1.0 / 32.0)

/* Organic matter that nitrate oxidises on its way to nitrogen gas, gCOD/gN: 5/4 mol of oxygen a mol. */
#define TL_COD_PER_NITRATE 2.86

struct tl_process_table {
    real nu[TL_NPROCESS][TL_NCOLUMN];
};

#if TL_WIDE == 1
void tl_process_table_fill(const struct tl_params *p, struct tl_process_table *t);

/* Nitrogen in one unit of a column's component, gN. */
double tl_column_nitrogen(const struct tl_params *p, int column);
/* Whether the column is organic matter (gCOD). */
int tl_column_is_organic(int column);
const char *tl_process_name(int process);
#endif

#endif
