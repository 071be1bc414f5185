/* What the model says at the place and time of each reading. */
#ifndef TL_STUDY_FIT_COURSE_H
#define TL_STUDY_FIT_COURSE_H

#include <stddef.h>

#include "towerloop/measured.h"
#include "towerloop/scenario.h"

/* Readings are taken at even instants: each at the first that is no more than half as far behind it. */
#define TL_FIT_PERIOD_D (5.0 / 1440)

struct tl_fit_course {
    const struct tl_measured *row; /* by time */
    size_t rows;
    double rtol; /* of the engine; 0: its default */
    const volatile int *interrupted;
};

/* Run the scenario to the last reading. value[rows] in base units; NAN where the run has no such water:
 * before it, behind it, or below a tower that is off. TL_OK, TL_E_SOLVER, TL_E_INTERRUPTED,
 * TL_E_MEMORY. */
int tl_fit_course(const struct tl_scenario *s, const struct tl_fit_course *c, double *value);

#endif
