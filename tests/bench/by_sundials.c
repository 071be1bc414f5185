/* The run by CVODE (Hindmarsh et al. 2005, ACM Trans. Math. Softw. 31:363) and ARKODE (Reynolds et al.
 * 2023, ACM Trans. Math. Softw. 49:14) of SUNDIALS, in the settings an engineer would try. */
#include <arkode/arkode_erkstep.h>
#include <cvode/cvode.h>
#include <cvode/cvode_bandpre.h>
#include <cvode/cvode_diag.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include "walk.h"

#define LARGEST_STEP_D 0.1
#define MOST_STEPS     10000000

enum linear { FIXED_POINT, DIAGONAL, DENSE, GMRES, GMRES_BAND };

struct cvode_kind {
    int method;
    enum linear linear;
    int band; /* half width of the preconditioner */
};

struct by_sundials {
    const struct solver *solver;
    SUNContext context;
    N_Vector y, tolerance;
    SUNMatrix matrix;
    SUNLinearSolver linear;
    SUNNonlinearSolver nonlinear;
    void *memory;
};

static int rhs(double t_d, N_Vector y, N_Vector dydt, void *arg)
{
    return walk_rhs(arg, t_d, N_VGetArrayPointer(y), N_VGetArrayPointer(dydt)) != 0;
}

static struct by_sundials *open_vectors(struct walk *w, const struct solver *s, double rtol)
{
    struct by_sundials *b = calloc(1, sizeof *b);
    const size_t n = w->at->core;

    if (!b || SUNContext_Create(NULL, &b->context))
        return NULL;
    b->solver = s;
    b->y = N_VNew_Serial((sunindextype)n, b->context);
    b->tolerance = N_VNew_Serial((sunindextype)n, b->context);
    memcpy(N_VGetArrayPointer(b->y), w->y, n * sizeof(double));
    for (size_t i = 0; i < n; i++)
        N_VGetArrayPointer(b->tolerance)[i] = rtol * w->scale[i];
    return b;
}

static void close_vectors(struct by_sundials *b)
{
    if (b->linear)
        SUNLinSolFree(b->linear);
    if (b->nonlinear)
        SUNNonlinSolFree(b->nonlinear);
    if (b->matrix)
        SUNMatDestroy(b->matrix);
    N_VDestroy(b->y);
    N_VDestroy(b->tolerance);
    SUNContext_Free(&b->context);
    free(b);
}

/* --- CVODE ------------------------------------------------------------------------------------ */

static int choose_solver(struct by_sundials *b, const struct cvode_kind *k, sunindextype n)
{
    switch (k->linear) {
    case FIXED_POINT:
        b->nonlinear = SUNNonlinSol_FixedPoint(b->y, 0, b->context);
        return CVodeSetNonlinearSolver(b->memory, b->nonlinear);
    case DIAGONAL:
        return CVDiag(b->memory);
    case DENSE:
        b->matrix = SUNDenseMatrix(n, n, b->context);
        b->linear = SUNLinSol_Dense(b->y, b->matrix, b->context);
        return CVodeSetLinearSolver(b->memory, b->linear, b->matrix);
    case GMRES:
        b->linear = SUNLinSol_SPGMR(b->y, SUN_PREC_NONE, 0, b->context);
        return CVodeSetLinearSolver(b->memory, b->linear, NULL);
    case GMRES_BAND:
    default:
        b->linear = SUNLinSol_SPGMR(b->y, SUN_PREC_LEFT, 0, b->context);
        return CVodeSetLinearSolver(b->memory, b->linear, NULL) ||
               CVBandPrecInit(b->memory, n, k->band, k->band);
    }
}

static void close_cvode(void *state)
{
    struct by_sundials *b = state;
    CVodeFree(&b->memory);
    close_vectors(b);
}

static void *open_cvode(struct walk *w, const struct solver *s, double rtol)
{
    const struct cvode_kind *k = s->kind;
    struct by_sundials *b = open_vectors(w, s, rtol);

    if (!b)
        return NULL;
    b->memory = CVodeCreate(k->method, b->context);
    if (CVodeInit(b->memory, rhs, w->t_d, b->y) ||
        CVodeSVtolerances(b->memory, rtol, b->tolerance) ||
        choose_solver(b, k, (sunindextype)w->at->core) || CVodeSetUserData(b->memory, w) ||
        CVodeSetMaxNumSteps(b->memory, MOST_STEPS) || CVodeSetMaxStep(b->memory, LARGEST_STEP_D)) {
        close_cvode(b);
        return NULL;
    }
    return b;
}

static bool restart_cvode(void *state, struct walk *w)
{
    struct by_sundials *b = state;
    memcpy(N_VGetArrayPointer(b->y), w->y, w->at->core * sizeof(double));
    return CVodeReInit(b->memory, w->t_d, b->y) == CV_SUCCESS;
}

static bool go_cvode(void *state, struct walk *w, double t_d, double until_d)
{
    struct by_sundials *b = state;
    double reached;
    if (CVodeSetStopTime(b->memory, until_d) ||
        CVode(b->memory, t_d, b->y, &reached, CV_NORMAL) < 0)
        return false;
    memcpy(w->y, N_VGetArrayPointer(b->y), w->at->core * sizeof(double));
    return true;
}

/* --- ARKODE, explicit ------------------------------------------------------------------------- */

static void close_arkode(void *state)
{
    struct by_sundials *b = state;
    ERKStepFree(&b->memory);
    close_vectors(b);
}

static void *open_arkode(struct walk *w, const struct solver *s, double rtol)
{
    struct by_sundials *b = open_vectors(w, s, rtol);

    if (!b)
        return NULL;
    b->memory = ERKStepCreate(rhs, w->t_d, b->y, b->context);
    if (!b->memory || ERKStepSVtolerances(b->memory, rtol, b->tolerance) ||
        ERKStepSetTableNum(b->memory, *(const ARKODE_ERKTableID *)s->kind) ||
        ERKStepSetUserData(b->memory, w) || ERKStepSetMaxNumSteps(b->memory, MOST_STEPS) ||
        ERKStepSetMaxStep(b->memory, LARGEST_STEP_D)) {
        close_arkode(b);
        return NULL;
    }
    return b;
}

/* The step size is kept over a stop, as the engine keeps its own. */
static bool restart_arkode(void *state, struct walk *w)
{
    struct by_sundials *b = state;
    double h_d = 0;
    if (ERKStepGetCurrentStep(b->memory, &h_d))
        return false;
    memcpy(N_VGetArrayPointer(b->y), w->y, w->at->core * sizeof(double));
    if (!(h_d > 0))
        return ERKStepReset(b->memory, w->t_d, b->y) == ARK_SUCCESS;
    return ERKStepReInit(b->memory, rhs, w->t_d, b->y) == ARK_SUCCESS &&
           ERKStepSetInitStep(b->memory, h_d) == ARK_SUCCESS;
}

static bool go_arkode(void *state, struct walk *w, double t_d, double until_d)
{
    struct by_sundials *b = state;
    double reached;
    if (ERKStepSetStopTime(b->memory, until_d) ||
        ERKStepEvolve(b->memory, t_d, b->y, &reached, ARK_NORMAL) < 0)
        return false;
    memcpy(w->y, N_VGetArrayPointer(b->y), w->at->core * sizeof(double));
    return true;
}

/* --- the settings ------------------------------------------------------------------------------ */

#define CVODE(name, ...)                                                                           \
    {                                                                                              \
        name, open_cvode, restart_cvode, go_cvode, close_cvode, &(const struct cvode_kind)         \
        {                                                                                          \
            __VA_ARGS__                                                                            \
        }                                                                                          \
    }
#define ARKODE(name, id)                                                                           \
    {                                                                                              \
        name, open_arkode, restart_arkode, go_arkode, close_arkode, &(const ARKODE_ERKTableID)     \
        {                                                                                          \
            id                                                                                     \
        }                                                                                          \
    }
const struct solver sundials_solvers[] = {
    CVODE("CVODE Adams, fixed point", CV_ADAMS, FIXED_POINT, 0),
    CVODE("CVODE Adams, diagonal", CV_ADAMS, DIAGONAL, 0),
    CVODE("CVODE BDF, diagonal", CV_BDF, DIAGONAL, 0),
    CVODE("CVODE BDF, dense", CV_BDF, DENSE, 0),
    CVODE("CVODE BDF, GMRES", CV_BDF, GMRES, 0),
    CVODE("CVODE BDF, GMRES, band 4", CV_BDF, GMRES_BAND, 4),
    CVODE("CVODE BDF, GMRES, band 11", CV_BDF, GMRES_BAND, 11),
    ARKODE("ARKODE Bogacki-Shampine 3(2)", ARKODE_BOGACKI_SHAMPINE_4_2_3),
    ARKODE("ARKODE Zonneveld 4(3)", ARKODE_ZONNEVELD_5_3_4),
    ARKODE("ARKODE Dormand-Prince 5(4)", ARKODE_DORMAND_PRINCE_7_4_5),
};
const size_t sundials_solver_count = sizeof sundials_solvers / sizeof sundials_solvers[0];
