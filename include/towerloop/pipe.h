/* Head lost by water in a round pipe. Pure functions: doubles in, doubles out, no state. */
#ifndef TOWERLOOP_PIPE_H
#define TOWERLOOP_PIPE_H

#define TL_GRAVITY_M_S2 9.80665

/* A pipe from the pump to where the water leaves it. */
struct tl_pipe {
    double length_m;    /* >= 0 */
    double diameter_m;  /* inside, > 0 */
    double roughness_m; /* height of the bumps on the wall, >= 0 */
    double fittings;    /* sum of the loss coefficients K of bends, valves and outlet, >= 0 */
};

/* Smooth plastic, as drawn tubing: Moody 1944, Trans. ASME 66:671. */
#define TL_PIPE_SMOOTH_M 1.5e-6
/* The outlet alone: the water leaves with its velocity, which is lost. */
#define TL_PIPE_OUTLET 1.0

/* Friction factor of Darcy and Weisbach. Up to a Reynolds number of 2000 it is 64/Re (Hagen-Poiseuille);
 * from 4000 on that of Swamee & Jain 1976, J. Hydraul. Div. ASCE 102(5):657, which is within 1 to 3 % of
 * Colebrook & White for 5e3 to 1e8 and a roughness of at most 0.01 of the diameter; between them, where
 * no figure is certain, a straight line. `reynolds` >= 0 (0 gives 0), `roughness` as a share of the
 * diameter. */
double tl_friction_factor(double reynolds, double roughness);

/* Head lost at a flow >= 0, m of water: (f L/D + K) v^2/2g, v the velocity. Never falls as the flow
 * rises. The viscosity is that at t_degC, 0-40. */
double tl_pipe_loss_m(const struct tl_pipe *p, double flow_m3_d, double t_degC);
/* Mean velocity in it, m/s. */
double tl_pipe_velocity_m_s(const struct tl_pipe *p, double flow_m3_d);

#endif
