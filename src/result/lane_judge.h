/* Judges of a few tanks in vector lanes, one vector's worth of them: what the code compiled for a level
 * of the processor offers. The levels are those of the engine's lanes, by name. */
#ifndef TL_RESULT_LANE_JUDGE_H
#define TL_RESULT_LANE_JUDGE_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/verdict.h"

/* Value i of lane l stands at [i * wide + l] of all arrays. */
struct tl_lane_judge {
    double *limits;      /* struct tl_limits */
    double *temperature; /* of the water at the next sample, degC */
    double *pressure;    /* of the air, atm; once, before the first sample */
    const double *ph;    /* at the last sample */
};

struct tl_lane_judge_level {
    const char *name;
    int wide;
    /* NULL when memory runs out. */
    struct tl_lane_judge *(*create)(double length_d);
    void (*release)(struct tl_lane_judge *j);
    /* The tanks at an instant: as tl_judge_add(), from the water alone. Bit l of *strange: lane l may
     * have left the published range for pH, salinity or oxygen. `tank` as aligned as the engine's lanes are.
     * TL_OK, TL_E_SOLVER, TL_E_MEMORY. */
    int (*add)(struct tl_lane_judge *j, double t_d, const double *tank, bool occupied,
               unsigned *strange);
    /* Once, then the verdict on each lane. */
    void (*close)(struct tl_lane_judge *j);
    void (*read)(const struct tl_lane_judge *j, size_t lane, struct tl_verdict *out);
};

/* NULL: no level of that name in this build. */
const struct tl_lane_judge_level *tl_lane_judge_level(const char *name);

extern const struct tl_lane_judge_level tl_judges_baseline;
#ifdef __x86_64__
extern const struct tl_lane_judge_level tl_judges_avx2;
extern const struct tl_lane_judge_level tl_judges_avx512;
#endif

#endif
