/* The library for languages that pass nothing but pointers to plain numbers and texts: .C() of R, older
 * Fortran. Built on towerloop.h, whose rules on threads, errors and units hold here too.
 *
 * A text that is given is char **: its pointer is at [0]. A text that is answered is written into the
 * buffer at [0], which must have the size named here, closed by a NUL and cut between characters.
 * Sizes count the NUL, so in R a buffer is strrep(" ", size - 1). *status gets TL_OK or a TL_E_*. */
#ifndef TOWERLOOP_FLAT_H
#define TOWERLOOP_FLAT_H

#include "towerloop/api.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Bytes of a buffer for a column's or limit's name, and for the verdict. */
#define TL_FLAT_TEXT 64

/* --- chemistry, element by element ---------------------------------------------------------------- */

/* Share of total ammonia that is un-ionised, 0..1. degC 0-50, pH 6-10; Emerson et al. 1975. */
TL_API void tl_flat_nh3_share(const int *n, const double *t_degC, const double *ph, double *share);
/* Oxygen in equilibrium with moist air, g/m3 = mg/L. degC 0-40, salinity 0-40 g/kg, pressure
 * 0.5-1.1 atm; Benson & Krause 1980, 1984. */
TL_API void tl_flat_o2_saturation(const int *n, const double *t_degC, const double *salinity_g_kg,
                                  const double *pressure_atm, double *o2_g_m3);
/* Pressure of the standard atmosphere, atm. -500 .. 11 000 m; U.S. Standard Atmosphere 1976. */
TL_API void tl_flat_pressure(const int *n, const double *elevation_m, double *pressure_atm);

/* --- a scenario to a table ------------------------------------------------------------------------ */

/* Read a scenario's text and say how much room its run takes: ask first, then tl_flat_run().
 *
 * scenario   its text, UTF-8
 * folder     where files it names lie; "" refuses them
 * set, sets  changes "KEY=VALUE", and how many; 0: set is not looked at
 * rows, columns, limits   answered; 0 on failure. columns x TL_FLAT_TEXT bytes hold the names
 * status     TL_OK, TL_E_INPUT, TL_E_MEMORY
 * fault      every message of the reader, one a line; fault_size: of the buffer */
TL_API void tl_flat_size(char **scenario, char **folder, char **set, const int *sets, int *rows,
                         int *columns, int *limits, int *status, char **fault,
                         const int *fault_size);
/* Names for a table of that scenario's run: `columns` buffers of TL_FLAT_TEXT bytes. */
TL_API void tl_flat_column_names(char **scenario, char **folder, char **set, const int *sets,
                                 const int *columns, char **name, int *status, char **fault,
                                 const int *fault_size);
/* Names of the limits, the same for every scenario: `limits` buffers of TL_FLAT_TEXT bytes. */
TL_API void tl_flat_limit_names(const int *limits, char **name);
/* Run it.
 *
 * rows, columns, limits   as tl_flat_size() said; TL_E_INPUT when they are not
 * table      rows x columns doubles, column after column; NAN where there is no value
 * worst      `limits` doubles: each limit's worst value; NAN where it could not be judged
 * verdict    TL_FLAT_TEXT bytes
 * ready_d, fish_lost_d    days; NAN: never
 * status     besides those of tl_flat_size(): TL_E_SOLVER, TL_E_LEDGER. The table then holds the rows
 *            up to the failure, the rest is NAN; worst is NAN and the verdict empty */
TL_API void tl_flat_run(char **scenario, char **folder, char **set, const int *sets,
                        const int *rows, const int *columns, const int *limits, double *table,
                        double *worst, char **verdict, double *ready_d, double *fish_lost_d,
                        int *status, char **fault, const int *fault_size);

#ifdef __cplusplus
}
#endif

#endif
