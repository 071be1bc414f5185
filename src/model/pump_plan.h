/* The flow after each stop of the schedule, which hangs on what is planned alone. Private to the model. */
#ifndef TOWERLOOP_MODEL_PUMP_PLAN_H
#define TOWERLOOP_MODEL_PUMP_PLAN_H

#include "model_private.h"

/* Fills m->stop_flow_m3_d for the stops in order. TL_OK, TL_E_MEMORY or TL_E_SOLVER. */
int tl_pump_plan(struct tl_model *m);

#endif
