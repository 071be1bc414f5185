/* Solving the heat balance ahead of a run. */
#ifndef TOWERLOOP_MODEL_HEAT_COURSE_H
#define TOWERLOOP_MODEL_HEAT_COURSE_H

#include "model_private.h"

#define TL_HEAT_STEP_D (1.0 / 96)

/* Fill m->heat; the schedule of `m` must be made. TL_OK, TL_E_MEMORY, or TL_E_SOLVER when the loop
 * cannot be started. */
int tl_heat_solve(struct tl_model *m, double step_d);
void tl_heat_course_free(struct tl_heat_course *c);

#endif
