/* What a study needs of a run, read back from its summary.json. */
#ifndef TL_RUN_RESULT_H
#define TL_RUN_RESULT_H

#include <stdbool.h>

#include "towerloop/extremes.h"
#include "towerloop/given.h"
#include "towerloop/limits.h"
#include "towerloop/ranges.h"
#include "towerloop/verdict.h"

#define TL_CANNOT_TELL_SIZE 2048

struct tl_run_result {
    char verdict[48];    /* as tl_outcome_verdict() */
    enum tl_grade grade; /* as tl_outcome_grade() */
    struct tl_run_limit {
        char unit[24];
        double caution, danger, worst; /* NAN: none */
        double hours_caution, hours_danger;
        char worst_time[24], first_breach[24]; /* "2027-05-28T06:00:00"; "": never */
        enum tl_grade grade;
    } limit[TL_NLIMIT];
    char start[24];                        /* "2027-05-01T06:00:00": on day 0 */
    double filter_ready_d;                 /* NAN: never */
    char cannot_tell[TL_CANNOT_TELL_SIZE]; /* as tl_outcome_cannot_tell() */
    bool own_limits;                       /* judged by limits that the scenario sets */
    bool fish_lost;
    double hours_without_fish; /* not judged */
    struct tl_extreme_pair {
        double lowest, highest;                 /* NAN: never judged */
        char lowest_time[24], highest_time[24]; /* as above; "": never */
    } extreme[TL_NEXTREME];
    bool submerged; /* media under water */
    /* of the trays: least oxygen of the water leaving one, g/m3; most voids filled and film without oxygen,
     * 0..1; NAN: the tower never ran */
    double least_o2, most_filled, most_airless;
    bool sulfide;                         /* hydrogen sulfide can form */
    double outside[TL_NRANGE];            /* furthest outside the published range; NAN: never */
    struct tl_given given, given_a_month; /* over the run, over its last month with fish */
};

/* The result of the run in `folder`. TL_OK; TL_E_INPUT when there is none that this version wrote
 * whole; TL_E_IO when it cannot be read, errno says why; TL_E_MEMORY. */
int tl_run_result_load(const char *folder, struct tl_run_result *out);

#endif
