/* What is counted of every run of a spread: the worst of each interval, and each limit's worst value; with
 * the bins for it. */
#ifndef TL_WATCHED_H
#define TL_WATCHED_H

#include <stdbool.h>
#include <stddef.h>

#include "bins.h"
#include "towerloop/limits.h"
#include "towerloop/model.h"

/* id, name, unit, lowest counts (else the highest), logarithmic, lower edge, width, bins */
#define TL_WATCHED_LIST(X)                                                                         \
    X(TL_WATCHED_O2, "oxygen", "mg/L", true, true, 0.05, 0.01, 680)                                \
    X(TL_WATCHED_TAN, "total ammonia", "mg/L as N", false, true, 1e-3, 0.01, 1230)                 \
    X(TL_WATCHED_NH3, "un-ionised ammonia", "mg/L as N", false, true, 1e-5, 0.01, 1400)            \
    X(TL_WATCHED_NO2, "nitrite", "mg/L as N", false, true, 1e-3, 0.01, 1230)                       \
    X(TL_WATCHED_PH_LOW, "pH", "", true, false, 3, 0.01, 902)                                      \
    X(TL_WATCHED_PH_HIGH, "pH", "", false, false, 3, 0.01, 902)                                    \
    X(TL_WATCHED_ALK, "alkalinity", "mg/L as CaCO3", true, true, 0.5, 0.01, 780)                   \
    X(TL_WATCHED_NO3, "nitrate", "mg/L as N", false, true, 0.05, 0.01, 1070)                       \
    X(TL_WATCHED_COLD, "temperature", "degC", true, false, -5, 0.05, 1102)                         \
    X(TL_WATCHED_WARM, "temperature", "degC", false, false, -5, 0.05, 1102)

enum tl_watched_id {
#define TL_WATCHED_ENUM(id, name, unit, below, log, low, width, bins) id,
    TL_WATCHED_LIST(TL_WATCHED_ENUM)
#undef TL_WATCHED_ENUM
        TL_NWATCHED
};

struct tl_watched {
    const char *name, *unit;
    bool below; /* the lowest of each interval is kept, else the highest */
    struct tl_bins bins;
};
const struct tl_watched *tl_watched(size_t id);
/* All of them from a look at the tank, in their units. */
void tl_watched_values(const struct tl_snapshot *glance, double value[TL_NWATCHED]);

/* The bins for the worst value of a limit, in the limit's unit: 0.1 % wide; of pH 0.001, of temperature 0.005. */
const struct tl_bins *tl_limit_bins(enum tl_limit_id limit);
/* The watched quantity that a limit is about; TL_NWATCHED: none. */
enum tl_watched_id tl_limit_watched(enum tl_limit_id limit);

/* The intervals of a run: the hours of one that lasts up to a fortnight, else its days, or as many days in one
 * as leave 400 intervals at most. They end on the hour or at midnight; the first and last may be cut. */
struct tl_intervals {
    double start_d, end_d; /* of the run, days since day 0 */
    double length_d;
    double sample_d; /* between two looks at the tank: half an hour; of hours 5 minutes */
    size_t count;
};
struct tl_intervals tl_intervals_of(double start_d, double length_d);
/* The interval in which an instant of the run lies. */
size_t tl_interval_at(const struct tl_intervals *v, double t_d);
/* Its middle, of what lies within the run. */
double tl_interval_middle(const struct tl_intervals *v, size_t interval);

#endif
