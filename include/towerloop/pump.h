/* What the pump moves: by its curve against the height it lifts to and the friction in its pipe, or as
 * the setup gives it; how fouling takes from it; and what is planned for it.
 *
 * Equal pumps stand side by side on one pipe, each with a non-return valve: their flows add at equal
 * head, and nothing runs back through one that stands still. All the water is lifted, whatever share
 * of it crosses the tower. Fouling takes a share of each pump's flow at every head; the pipe stays as
 * it is. So n pumps that keep the share k of their flow do what n k clean ones would. */
#ifndef TOWERLOOP_PUMP_H
#define TOWERLOOP_PUMP_H

#include <stdbool.h>

#include "towerloop/setup.h"

/* Water is reckoned cold in the pipe, so that friction errs to the high side: at 25 degC it is 7 to 11 %
 * less. */
#define TL_PIPE_WATER_DEGC 10.0

struct tl_duty {      /* where curve and system meet */
    double flow_m3_d; /* of all of them together */
    /* NAN without a curve */
    double head_m;       /* lift and friction */
    double lift_m;       /* to where the water leaves the pipe */
    double friction_m;   /* lost in pipe and fittings */
    double velocity_m_s; /* in the pipe; NAN without one */
    bool beyond; /* at a head below the lowest of the curve; the flow is that of its last point */
};

/* What `pumps` clean pumps do, 0 <= pumps <= count; a fraction stands for fouled ones. A curve that does
 * not reach the lift gives a flow of 0. The setup must be sound as for tl_model_build(). TL_OK,
 * TL_E_MEMORY, or TL_E_SOLVER when no answer is found. */
int tl_pump_duty(const struct tl_setup *s, double pumps, struct tl_duty *out);

/* Whether pump and curve are as setup.h says they have to be. */
bool tl_pump_valid(const struct tl_pump *p);

/* Share of the clean flow that is left after so many days, 0..1: 1 - fouling x days. */
double tl_pump_kept(const struct tl_pump *p, double days);

/* Time from one step of the fouling flow to the next, d; 0: it does not foul. Steps take at most 0.5 %
 * of the clean flow. They come daily, finer where a day takes more, in whole days up to a week where it
 * takes less. */
double tl_pump_step_d(const struct tl_pump *p);

/* Power that goes into the water, W: density x gravity x flow x head. */
double tl_water_power_w(double flow_m3_d, double head_m);

#endif
