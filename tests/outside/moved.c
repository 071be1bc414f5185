/* The wrappers: each calls the real function and adds what moved_set() asked for. */
#include "moved.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "process.h"
#include "towerloop/air.h"
#include "towerloop/chem.h"
#include "towerloop/heat.h"
#include "towerloop/limits.h"
#include "towerloop/pipe.h"
#include "towerloop/setup.h"
#include "towerloop/sun.h"
#include "towerloop/units.h"

static const char *moved_name;
static double moved_share;
static double moved_by;
static bool moved_known; /* moved_by has been set by the first result */

void moved_set(const char *name, double share)
{
    moved_name = name;
    moved_share = share;
    moved_known = false;
}

bool moved_any(void)
{
    return moved_name != NULL;
}

static bool is_moved(const char *name)
{
    return moved_name != NULL && strcmp(name, moved_name) == 0;
}

static double moved(const char *name, double result)
{
    if (!is_moved(name))
        return result;
    if (!moved_known) {
        moved_by = moved_share * fabs(result);
        moved_known = true;
    }
    return result + moved_by;
}

/* name, parameters, arguments: the functions that return their result */
#define MOVED_LIST(X)                                                                              \
    X(tl_pressure_atm, (double z), (z))                                                            \
    X(tl_o2_saturation, (double t, double s, double p), (t, s, p))                                 \
    X(tl_nh3_fraction, (double t, double ph), (t, ph))                                             \
    X(tl_co2_saturation, (const struct tl_carbonate *k, double ppm, double p), (k, ppm, p))        \
    X(tl_epa_ammonia_acute, (double t, double ph, bool salmonids), (t, ph, salmonids))             \
    X(tl_epa_ammonia_chronic, (double t, double ph, bool mussels), (t, ph, mussels))               \
    X(tl_viscosity_pa_s, (double t), (t))                                                          \
    X(tl_surface_tension_n_m, (double t), (t))                                                     \
    X(tl_diffusivity_o2_m2_s, (double t), (t))                                                     \
    X(tl_diffusivity_co2_m2_s, (double t), (t))                                                    \
    X(tl_vapour_pressure_pa, (double t), (t))                                                      \
    X(tl_humidity_ratio, (double e, double p), (e, p))                                             \
    X(tl_air_enthalpy_j_kg, (double t, double w), (t, w))                                          \
    X(tl_air_density_kg_m3, (double t, double w, double p), (t, w, p))                             \
    X(tl_latent_heat_j_kg, (double t), (t))                                                        \
    X(tl_wet_bulb_degC, (double t, double rh, double p), (t, rh, p))                               \
    X(tl_sun_declination_rad, (double day), (day))                                                 \
    X(tl_sun_w_m2, (double height, double cloud), (height, cloud))                                 \
    X(tl_sun_mean_w_m2, (double height, double cloud), (height, cloud))                            \
    X(tl_evaporation_w_m2_pa, (double v), (v))                                                     \
    X(tl_convection_w_m2_k, (double e, double p), (e, p))                                          \
    X(tl_sky_emissivity, (double t, double e, double cloud), (t, e, cloud))                        \
    X(tl_friction_factor, (double re, double roughness), (re, roughness))                          \
    X(tl_pipe_loss_m, (const struct tl_pipe *p, double flow, double t), (p, flow, t))              \
    X(tl_bed_surface_m2_m3, (double voids, double size, double shape), (voids, size, shape))       \
    X(tl_weir_ratio, (double ab, double drop, double t), (ab, drop, t))

#define MOVED_WRAPPER(name, parameters, arguments)                                                 \
    double __real_##name parameters;                                                               \
    double __wrap_##name parameters;                                                               \
    double __wrap_##name parameters                                                                \
    {                                                                                              \
        return moved(#name, __real_##name arguments);                                              \
    }
MOVED_LIST(MOVED_WRAPPER)

void __real_tl_carbonate_constants(double t_degC, struct tl_carbonate *k);
void __wrap_tl_carbonate_constants(double t_degC, struct tl_carbonate *k);

void __wrap_tl_carbonate_constants(double t_degC, struct tl_carbonate *k)
{
    __real_tl_carbonate_constants(t_degC, k);
    if (is_moved("tl_carbonate_constants")) {
        k->k1 *= 1.0 + moved_share;
        k->k2 *= 1.0 + moved_share;
        k->kh *= 1.0 + moved_share;
        k->kw *= 1.0 + moved_share;
        k->ka *= 1.0 + moved_share;
    }
}

int __real_tl_solve_ph(const struct tl_carbonate *k, double alk_eq_m3, double tic_mol_m3,
                       double tan_gN_m3, double *h_mol_L);
int __wrap_tl_solve_ph(const struct tl_carbonate *k, double alk_eq_m3, double tic_mol_m3,
                       double tan_gN_m3, double *h_mol_L);

int __wrap_tl_solve_ph(const struct tl_carbonate *k, double alk_eq_m3, double tic_mol_m3,
                       double tan_gN_m3, double *h_mol_L)
{
    int status = __real_tl_solve_ph(k, alk_eq_m3, tic_mol_m3, tan_gN_m3, h_mol_L);

    *h_mol_L = moved("tl_solve_ph", *h_mol_L);
    return status;
}

int __real_tl_parse_quantity(const char *text, enum tl_dim dim, double *base_value, char *what,
                             char *expected, size_t size);
int __wrap_tl_parse_quantity(const char *text, enum tl_dim dim, double *base_value, char *what,
                             char *expected, size_t size);

int __wrap_tl_parse_quantity(const char *text, enum tl_dim dim, double *base_value, char *what,
                             char *expected, size_t size)
{
    int status = __real_tl_parse_quantity(text, dim, base_value, what, expected, size);

    *base_value = moved("tl_parse_quantity", *base_value);
    return status;
}

/* Every coefficient but those of nitrogen, so that what is reckoned per gN moves. */
void __real_tl_process_table_fill(const struct tl_params *p, struct tl_process_table *t);
void __wrap_tl_process_table_fill(const struct tl_params *p, struct tl_process_table *t);

void __wrap_tl_process_table_fill(const struct tl_params *p, struct tl_process_table *t)
{
    __real_tl_process_table_fill(p, t);
    if (!is_moved("tl_process_table_fill"))
        return;
    for (int i = 0; i < TL_NPROCESS; i++) {
        for (int k = TL_O2; k < TL_NCOLUMN; k++)
            t->nu[i][k] *= 1.0 + moved_share;
    }
}

void __real_tl_limits_default(struct tl_limits *l);
void __wrap_tl_limits_default(struct tl_limits *l);

void __wrap_tl_limits_default(struct tl_limits *l)
{
    double *all = (double *)l; /* nothing but doubles */

    __real_tl_limits_default(l);
    for (size_t i = 0; is_moved("tl_limits_default") && i < sizeof *l / sizeof *all; i++)
        all[i] *= 1.0 + moved_share;
}

/* A parameter of the model by its name: every setup starts from here. */
void __real_tl_setup_default(struct tl_setup *s);
void __wrap_tl_setup_default(struct tl_setup *s);

void __wrap_tl_setup_default(struct tl_setup *s)
{
    __real_tl_setup_default(s);
#define MOVE(field, dflt, dim, lo, hi, status, help)                                               \
    if (is_moved(#field))                                                                          \
        s->params.field *= 1.0 + moved_share;
    TL_PARAM_LIST(MOVE)
#undef MOVE
}
