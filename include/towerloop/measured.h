/* A log of measurements: what test kits and meters showed, a CSV with a line a reading.
 *
 *     time_iso,place,quantity,value,unit,error,method,note
 *     2027-05-03T08:00,tank,total ammonia,0.25-0.5,mg/L as N,,kit,between two colours
 *     2027-05-03T08:00,tank,pH,7.8,,0.2,kit,
 *     2027-05-03T08:00,tower out,oxygen,8.1,mg/L,5 %,meter,
 *
 * The first line names the columns, in any order. Needed are `time_iso` (or `time_d`, days since the
 * start date), `quantity`, `value` and `unit`; other columns are passed over, with a warning. A value is
 * a number, `<0.25` (below what the kit can show), `>5` (above it) or `0.25-0.5` (between two colours);
 * where it is blank the line says nothing. Lines may stand in any order and share a time. */
#ifndef TOWERLOOP_MEASURED_H
#define TOWERLOOP_MEASURED_H

#include <stddef.h>

#include "towerloop/scenario.h"
#include "towerloop/units.h"

/* id, the word in the log, dimension, least, most (base units), dimension of an error */
/* clang-format off */
#define TL_MEASURED_LIST(X)                                                                        \
    X(TAN, "total ammonia", TL_DIM_CONC_N, 0, 1000, TL_DIM_CONC_N)                    \
    X(NH3, "un-ionised ammonia", TL_DIM_CONC_N, 0, 1000, TL_DIM_CONC_N)               \
    X(NO2, "nitrite", TL_DIM_CONC_N, 0, 1000, TL_DIM_CONC_N)                          \
    X(NO3, "nitrate", TL_DIM_CONC_N, 0, 10000, TL_DIM_CONC_N)                         \
    X(PH, "pH", TL_DIM_NUMBER, 4, 11, TL_DIM_NUMBER)                                           \
    X(ALKALINITY, "alkalinity", TL_DIM_ALKALINITY, 0, 50, TL_DIM_ALKALINITY)      \
    X(O2, "oxygen", TL_DIM_CONC, 0, 40, TL_DIM_CONC)                                       \
    X(CO2, "carbon dioxide", TL_DIM_CONC, 0, 1000, TL_DIM_CONC)                            \
    X(TEMPERATURE, "temperature", TL_DIM_TEMPERATURE, 0, 40, TL_DIM_TEMPERATURE_SPAN)      \
    X(CHLORIDE, "chloride", TL_DIM_CONC, 0, 20000, TL_DIM_CONC)                            \
    X(CHLORINE, "chlorine", TL_DIM_CONC, 0, 20, TL_DIM_CONC)
/* clang-format on */

struct tl_text;

enum tl_measured_quantity {
#define TL_MEASURED_ENUM(id, word, dim, least, most, error_dim) TL_MEASURED_##id,
    TL_MEASURED_LIST(TL_MEASURED_ENUM)
#undef TL_MEASURED_ENUM
        TL_NMEASURED
};

/* id, the word in the log. A blank place is the tank. */
#define TL_PLACE_LIST(X)                                                                           \
    X(TANK, "tank")                                                                                \
    X(CHAMBER, "chamber")                                                                          \
    X(TOWER_OUT, "tower out")

enum tl_measured_place {
#define TL_PLACE_ENUM(id, word) TL_PLACE_##id,
    TL_PLACE_LIST(TL_PLACE_ENUM)
#undef TL_PLACE_ENUM
        TL_NPLACE
};

enum tl_measured_kind {
    TL_MEASURED_AT,     /* low == high */
    TL_MEASURED_BELOW,  /* high is the bound; low the least of the quantity */
    TL_MEASURED_ABOVE,  /* low is the bound; high the most of the quantity */
    TL_MEASURED_BETWEEN /* low < high */
};

struct tl_measured {
    double t_d;       /* days since day 0 of the scenario; may lie before or behind its run */
    double low, high; /* base units of the quantity's dimension */
    double error;     /* standard error as the log gives it, > 0, base units; NAN: not given */
    enum tl_measured_quantity quantity;
    enum tl_measured_place place;
    enum tl_measured_kind kind;
    unsigned line;             /* of the file, for messages */
    char method[TL_NAME_SIZE]; /* "": not given */
};

struct tl_measured_log {
    char *path;              /* as named by the user */
    struct tl_measured *row; /* by time; those of one time as in the file */
    size_t rows;             /* at least 1 once read */
    size_t blank;            /* lines without a value, which are not among the rows */
};

struct tl_measured_row {
    const char *word;
    enum tl_dim dim, error_dim;
    double least, most;
};
const struct tl_measured_row *tl_measured_row(enum tl_measured_quantity quantity);
const char *tl_measured_place_word(enum tl_measured_place place);

/* Read a log. `start` is the start of the scenario: `time_d` counts from its date. All faults go to `diag`
 * (must be initialised), with file, line and column, up to 20 of them. TL_OK, TL_E_INPUT (also for a
 * file that cannot be read or has no value in it), TL_E_MEMORY. On failure *out is empty and needs no free.
 * At most 16 MiB and 100 000 readings. */
int tl_measured_read(const char *path, const struct tl_date *start, struct tl_measured_log *out,
                     struct tl_diag *diag);
/* The same from memory; `name` stands for the file in messages. */
int tl_measured_read_text(const char *name, const char *text, size_t length,
                          const struct tl_date *start, struct tl_measured_log *out,
                          struct tl_diag *diag);
void tl_measured_free(struct tl_measured_log *log);

/* The first line of a log, and a line of it in the units that a reader of the system expects; read back
 * the line gives the same reading, its numbers to 6 digits, the time to the second. With `blank` the value is left to
 * be filled in. */
void tl_measured_add_header(struct tl_text *t);
void tl_measured_add(struct tl_text *t, const struct tl_measured *m, const struct tl_date *start,
                     enum tl_unit_system units, bool blank);

#endif
