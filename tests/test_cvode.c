/* The engine against CVODE (Hindmarsh et al. 2005, SUNDIALS: suite of nonlinear and differential/
 * algebraic equation solvers, ACM Trans. Math. Softw. 31, 363-396): every scenario that ships, the
 * same right-hand side and stops, integrated by another method (BDF, variable order) at rtol 1e-9.
 *
 * usage: test_cvode SCENARIO_FOLDER [DAYS]: each run is cut after DAYS */
#include <cvode/cvode.h>
#include <glob.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <cmocka.h>

#include "loops.h"
#include "near.h"
#include "runs.h"
#include "towerloop/scenario.h"
#include "towerloop/status.h"

#define REFERENCE_RTOL 1e-9
#define MOST_ERROR     2e-5 /* of the engine at its default tolerance, 1e-5 */
#define HOUR_D         (1.0 / 24)
#define SAME_INSTANT_D 1e-9

static const char *scenario_folder;
static double most_days = 1e6;

/* --- the reference ---------------------------------------------------------------------------- */

struct reference {
    const struct tl_model *model;
    const struct tl_layout *at;
    struct tl_work *work;
    struct tl_controls controls;
    struct tl_saved *saved;
    const struct tl_stop *stop;
    size_t stops, next_stop;
    double t_d, end_d;
    double until_d; /* the next stop: what changes there has no part in what leads to it */
    double *y;      /* whole state; its core is CVODE's vector */
    double *dydt;   /* whole derivative */
    SUNContext context;
    N_Vector core, tolerance;
    SUNMatrix matrix;
    SUNLinearSolver linear;
    void *cvode;
};

/* 0, or 1 which asks for a smaller step. */
static int core_rhs(double t_d, N_Vector core, N_Vector derivative, void *arg)
{
    struct reference *r = arg;

    memcpy(r->y, N_VGetArrayPointer(core), r->at->core * sizeof *r->y);
    int status = tl_loop_rhs(r->model, r->work, &r->controls,
                             fmin(t_d, r->until_d - SAME_INSTANT_D), r->y, r->dydt);
    memcpy(N_VGetArrayPointer(derivative), r->dydt, r->at->core * sizeof *r->y);
    return status != TL_OK;
}

static void open_reference(struct reference *r, const struct tl_model *m)
{
    const struct tl_setup *s = tl_model_setup(m);

    *r = (struct reference){.model = m, .at = tl_model_layout(m), .until_d = INFINITY};
    const sunindextype n = (sunindextype)r->at->core;
    double *scale = calloc(r->at->size, sizeof *scale);
    r->stop = tl_model_stops(m, &r->stops);
    r->t_d = s->start_d;
    r->end_d = s->start_d + s->length_d;
    r->saved = calloc(s->events + 1, sizeof *r->saved);
    r->y = calloc(r->at->size, sizeof *r->y);
    r->dydt = calloc(r->at->size, sizeof *r->dydt);
    assert_int_equal(tl_work_new(m, &r->work), TL_OK);
    assert_int_equal(tl_model_start(m, &r->controls, r->y), TL_OK);

    assert_int_equal(SUNContext_Create(NULL, &r->context), 0);
    r->core = N_VNew_Serial(n, r->context);
    r->tolerance = N_VNew_Serial(n, r->context);
    tl_model_scales(m, scale);
    memcpy(N_VGetArrayPointer(r->core), r->y, r->at->core * sizeof *r->y);
    for (size_t i = 0; i < r->at->core; i++)
        N_VGetArrayPointer(r->tolerance)[i] = REFERENCE_RTOL * scale[i];
    r->matrix = SUNDenseMatrix(n, n, r->context);
    r->linear = SUNLinSol_Dense(r->core, r->matrix, r->context);
    r->cvode = CVodeCreate(CV_BDF, r->context);
    assert_int_equal(CVodeInit(r->cvode, core_rhs, r->t_d, r->core), CV_SUCCESS);
    assert_int_equal(CVodeSVtolerances(r->cvode, REFERENCE_RTOL, r->tolerance), CV_SUCCESS);
    assert_int_equal(CVodeSetLinearSolver(r->cvode, r->linear, r->matrix), CV_SUCCESS);
    assert_int_equal(CVodeSetUserData(r->cvode, r), CV_SUCCESS);
    assert_int_equal(CVodeSetMaxNumSteps(r->cvode, 1000000), CV_SUCCESS);
    assert_int_equal(CVodeSetMaxStep(r->cvode, 0.1), CV_SUCCESS);
    free(scale);
}

static void close_reference(struct reference *r)
{
    CVodeFree(&r->cvode);
    SUNLinSolFree(r->linear);
    SUNMatDestroy(r->matrix);
    N_VDestroy(r->core);
    N_VDestroy(r->tolerance);
    SUNContext_Free(&r->context);
    tl_work_free(r->work);
    free(r->saved);
    free(r->y);
    free(r->dydt);
}

/* Carry out what is due now, then start the integration afresh. */
static void carry_out_stops(struct reference *r)
{
    memcpy(r->y, N_VGetArrayPointer(r->core), r->at->core * sizeof *r->y);
    while (r->next_stop < r->stops && r->stop[r->next_stop].t_d <= r->t_d + SAME_INSTANT_D)
        tl_stop_apply(r->model, r->work, &r->stop[r->next_stop++], r->saved, &r->controls, r->y);
    if (tl_dry_out_d(&r->controls) <= r->t_d + SAME_INSTANT_D)
        r->controls.dried_out = true;
    memcpy(N_VGetArrayPointer(r->core), r->y, r->at->core * sizeof *r->y);
    assert_int_equal(CVodeReInit(r->cvode, r->t_d, r->core), CV_SUCCESS);
}

static void integrate_to(struct reference *r, double t_d)
{
    double reached = r->t_d;

    if (t_d <= r->t_d + SAME_INSTANT_D)
        return;
    int flag = CVode(r->cvode, t_d, r->core, &reached, CV_NORMAL);
    if (flag < 0)
        fail_msg("CVODE gave up at day %.4f: %s", reached, CVodeGetReturnFlagName(flag));
    r->t_d = t_d;
}

/* --- comparison --------------------------------------------------------------------------------- */

static const int compared[] = {TL_TAN, TL_NO2, TL_O2};
#define COMPARED 3

struct hours { /* of the engine's run: TAN, NO2, O2 at each hour */
    double (*value)[COMPARED];
    size_t n, capacity;
};

static int keep_hour(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct hours *h = arg;

    (void)t_d;
    (void)c;
    if (h->n == h->capacity) {
        h->capacity = h->capacity ? 2 * h->capacity : 1024;
        h->value = realloc(h->value, h->capacity * sizeof *h->value);
    }
    for (int k = 0; k < COMPARED; k++)
        h->value[h->n][k] = y[compared[k]];
    h->n++;
    return TL_OK;
}

static void compare_hour(const struct reference *r, const double *value, double *error)
{
    const double *tank = &N_VGetArrayPointer(r->core)[r->at->tank];

    for (int k = 0; k < COMPARED; k++) {
        const double exact = tank[compared[k]];
        const double off = fabs(value[k] - exact) / fmax(fabs(exact), 0.05);
        if (!(off <= error[k])) /* a NaN stays */
            error[k] = off;
    }
}

static void compare_with_cvode(const char *name, const struct tl_setup *s)
{
    struct hours hours = {0};
    struct tl_observer observer = {HOUR_D, TL_NWATER, keep_hour, &hours};
    struct run run = whole_run(s, 0, &observer, 1);
    struct reference r;
    double error[COMPARED] = {0};
    size_t hour = 0;

    open_reference(&r, run.model);
    while (r.t_d < r.end_d) {
        carry_out_stops(&r);
        double until = fmin(r.end_d, tl_dry_out_d(&r.controls));
        if (r.next_stop < r.stops)
            until = fmin(until, r.stop[r.next_stop].t_d);
        r.until_d = until;
        assert_int_equal(CVodeSetStopTime(r.cvode, until), CV_SUCCESS);
        for (; s->start_d + (double)hour * HOUR_D < until - SAME_INSTANT_D; hour++) {
            integrate_to(&r, s->start_d + (double)hour * HOUR_D);
            assert_true(hour < hours.n);
            compare_hour(&r, hours.value[hour], error);
        }
        integrate_to(&r, until);
    }
    compare_hour(&r, hours.value[hours.n - 1], error); /* the end */
    assert_int_equal(hour + 1, hours.n);
    print_message("%-24s %5.1f d, %4zu h: largest relative error TAN %.1e, NO2 %.1e, O2 %.1e\n",
                  name, s->length_d, hour, error[0], error[1], error[2]);
    for (int k = 0; k < COMPARED; k++)
        near(error[k], 0, MOST_ERROR);
    close_reference(&r);
    end_run(&run);
    free(hours.value);
}

static void shipped_scenarios(void **state)
{
    (void)state;
    char pattern[4096];
    glob_t files;
    (void)snprintf(pattern, sizeof pattern, "%s/*.yaml", scenario_folder);
    assert_int_equal(glob(pattern, 0, NULL, &files), 0);
    assert_true(files.gl_pathc >= 6);
    for (size_t i = 0; i < files.gl_pathc; i++) {
        struct tl_scenario scenario;
        struct tl_diag diag = {0};
        tl_diag_init(&diag);
        int status = tl_scenario_read(files.gl_pathv[i], NULL, &scenario, &diag);
        if (status)
            fail_msg("%s cannot be read", files.gl_pathv[i]);
        scenario.setup.length_d = fmin(scenario.setup.length_d, most_days);
        compare_with_cvode(strrchr(files.gl_pathv[i], '/') + 1, &scenario.setup);
        tl_scenario_free(&scenario);
        tl_diag_free(&diag);
    }
    globfree(&files);
}

/* Every kind of event, and a tower that dries out. */
static void every_event(void **state)
{
    (void)state;
    struct tl_setup s;
    eventful_loop(&s);
    compare_with_cvode("every kind of event", &s);
    free_loop(&s);
}

/* Water that falls between the trays and into the tank. */
static void falls_that_aerate(void **state)
{
    (void)state;
    struct tl_setup s;
    eventful_loop(&s);
    s.length_d =
        fmin(s.length_d, most_days + 0.5); /* no event at its end: the reference leaves that out */
    s.params.fall_aeration = 1;
    compare_with_cvode("falls that aerate", &s);
    free_loop(&s);
}

/* What the reference leaves out, the running totals, the state proper does not feel. */
static void totals_feed_nothing(void **state)
{
    (void)state;
    struct tl_setup s;
    eventful_loop(&s);
    struct run run = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(run.engine, 2.5), TL_OK);
    const struct tl_layout *at = run.at;
    double *y = malloc(3 * at->size * sizeof *y);
    double *with = y + at->size;
    double *without = with + at->size;
    for (int k = 0; k < 2; k++) {
        struct tl_work *work;
        memcpy(y, run.y, at->size * sizeof *y);
        for (size_t i = at->core; k == 1 && i < at->size; i++)
            y[i] = NAN;
        assert_int_equal(tl_work_new(run.model, &work), TL_OK);
        assert_int_equal(tl_loop_rhs(run.model, work, tl_engine_controls(run.engine), 2.5, y,
                                     k == 0 ? with : without),
                         TL_OK);
        tl_work_free(work);
    }
    assert_memory_equal(with, without, at->core * sizeof *y);
    free(y);
    end_run(&run);
    free_loop(&s);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(totals_feed_nothing),
        cmocka_unit_test(every_event),
        cmocka_unit_test(falls_that_aerate),
        cmocka_unit_test(shipped_scenarios),
    };
    if (argc < 2)
        return 2;
    scenario_folder = argv[1];
    if (argc > 2)
        most_days = atof(argv[2]);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
