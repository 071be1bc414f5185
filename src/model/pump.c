/* Where the pumps' curve meets the system's, by a bracketing root solver. */
#include "towerloop/pump.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp.h>
#include <gsl/gsl_roots.h>
#include <math.h>

#include "towerloop/status.h"

#define SECONDS_A_DAY   86400.0
#define WATER_KG_M3     1000.0
#define MOST_ITERATIONS 200
#define NEAR_ENOUGH     1e-13 /* of the flow */
#define STEP_SHARE      0.005 /* of the clean flow, at most */
#define LONGEST_STEP_D  7.0

double tl_tower_lift_m(const struct tl_tower *t)
{
    return t->lowest_tray_m + t->trays * (t->media_depth_m + t->tray_gap_m);
}

static bool valid_curve(const struct tl_table *curve)
{
    if (curve->n < 2 || curve->n > TL_MOST_CURVE_POINTS || curve->y[curve->n - 1] != 0 ||
        !(curve->x[0] >= 0))
        return false;
    for (size_t i = 1; i < curve->n; i++)
        if (!(curve->x[i] > curve->x[i - 1]) || !(curve->y[i] < curve->y[i - 1]))
            return false;
    return isfinite(curve->x[curve->n - 1]) && isfinite(curve->y[0]);
}

static bool valid_pipe(const struct tl_pipe *p)
{
    return isnan(p->length_m) ||
           (p->length_m >= 0 && p->diameter_m > 0 && p->roughness_m >= 0 && p->fittings >= 0);
}

bool tl_pump_valid(const struct tl_pump *p)
{
    return p->count >= 1 && p->count <= TL_MOST_PUMPS && p->fouling_1_d >= 0 &&
           isfinite(p->fouling_1_d) && valid_pipe(&p->pipe) &&
           (p->curve.n == 0 || valid_curve(&p->curve));
}

/* --- the operating point -------------------------------------------------------------------- */

struct meeting {
    const struct tl_pump *pump;
    const gsl_interp *flow_of_head;
    double pumps;
    double lift_m;
};

static double friction_m(const struct tl_pump *p, double flow_m3_d)
{
    return isnan(p->pipe.length_m) ? 0 : tl_pipe_loss_m(&p->pipe, flow_m3_d, TL_PIPE_WATER_DEGC);
}

static double flow_of_one(const struct meeting *m, double head_m)
{
    const struct tl_table *t = &m->pump->curve;
    if (head_m <= t->x[0])
        return t->y[0];
    if (head_m >= t->x[t->n - 1])
        return 0;
    return gsl_interp_eval(m->flow_of_head, t->x, t->y, head_m, NULL);
}

/* What the pumps move at the head that a flow takes, less that flow. */
static double surplus(double flow_m3_d, void *arg)
{
    const struct meeting *m = arg;
    const double head_m = m->lift_m + friction_m(m->pump, flow_m3_d);
    return m->pumps * flow_of_one(m, head_m) - flow_m3_d;
}

static int meet(struct meeting *m, double *flow_m3_d)
{
    double lo = 0;
    double hi = m->pumps * flow_of_one(m, m->lift_m); /* without friction */

    *flow_m3_d = hi;
    if (!(hi > 0) || surplus(hi, m) >= 0)
        return TL_OK;
    gsl_function f = {.function = surplus, .params = m};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (!solver)
        return TL_E_MEMORY;
    int status = gsl_root_fsolver_set(solver, &f, lo, hi) ? TL_E_SOLVER : TL_OK;
    int going = GSL_CONTINUE;
    for (int i = 0; !status && going == GSL_CONTINUE; i++) {
        if (i == MOST_ITERATIONS || gsl_root_fsolver_iterate(solver))
            status = TL_E_SOLVER;
        lo = gsl_root_fsolver_x_lower(solver);
        hi = gsl_root_fsolver_x_upper(solver);
        going = gsl_root_test_interval(lo, hi, 0, NEAR_ENOUGH);
    }
    *flow_m3_d = gsl_root_fsolver_root(solver);
    gsl_root_fsolver_free(solver);
    return status;
}

int tl_pump_duty(const struct tl_setup *s, double pumps, struct tl_duty *out)
{
    const struct tl_pump *p = &s->pump;
    struct meeting m = {.pump = p, .pumps = pumps};

    *out = (struct tl_duty){.head_m = NAN, .lift_m = NAN, .friction_m = NAN, .velocity_m_s = NAN};
    if (p->curve.n == 0) {
        out->flow_m3_d = s->pump_flow_m3_d * (pumps / p->count);
        return TL_OK;
    }
    m.lift_m = isnan(p->head_m) ? tl_tower_lift_m(&s->tower) : p->head_m;
    /* a smooth and monotone curve takes three points */
    gsl_interp *flow_of_head =
        gsl_interp_alloc(p->curve.n > 2 ? gsl_interp_steffen : gsl_interp_linear, p->curve.n);
    if (!flow_of_head)
        return TL_E_MEMORY;
    m.flow_of_head = flow_of_head;
    int status =
        gsl_interp_init(flow_of_head, p->curve.x, p->curve.y, p->curve.n) ? TL_E_SOLVER : TL_OK;
    if (!status)
        status = meet(&m, &out->flow_m3_d);
    gsl_interp_free(flow_of_head);
    out->lift_m = m.lift_m;
    out->friction_m = friction_m(p, out->flow_m3_d);
    out->head_m = out->lift_m + out->friction_m;
    if (!isnan(p->pipe.length_m))
        out->velocity_m_s = tl_pipe_velocity_m_s(&p->pipe, out->flow_m3_d);
    out->beyond = out->head_m < p->curve.x[0];
    return status;
}

double tl_water_power_w(double flow_m3_d, double head_m)
{
    return WATER_KG_M3 * TL_GRAVITY_M_S2 * flow_m3_d / SECONDS_A_DAY * head_m;
}

/* --- fouling -------------------------------------------------------------------------------- */

double tl_pump_kept(const struct tl_pump *p, double days)
{
    return fmax(0, 1 - p->fouling_1_d * days);
}

double tl_pump_step_d(const struct tl_pump *p)
{
    if (!(p->fouling_1_d > 0))
        return 0;
    const double days = STEP_SHARE / p->fouling_1_d;
    return days < 1 ? 1 / ceil(1 / days) : fmin(floor(days + 1e-9), LONGEST_STEP_D);
}
