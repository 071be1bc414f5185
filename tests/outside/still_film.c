#include "still_film.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>

#define SLOUGH_1_D 0.5 /* trays at 16.8 m/h */
#define AT_REST_D  600

struct still_water still_clean(double t_degC, double tan)
{
    return (struct still_water){t_degC, tan, 0.0, 0.0, NAN, 3.0 * TL_CACO3_G_PER_EQ, 7.8};
}

static void setup(struct tl_setup *s)
{
    tl_setup_default(s);
    s->source.ph = 7.8;
}

void still_start(struct still_film *f, bool mature)
{
    struct tl_setup s;

    setup(&s);
    const struct tl_params *p = &s.params;
    tl_film_model_make(p, &f->model);
    f->film[TL_FA] = mature ? p->mature_aob : p->new_aob;
    f->film[TL_FN] = mature ? p->mature_nob : p->new_nob;
    f->film[TL_FH] = mature ? p->mature_het : p->new_het;
    f->film[TL_FS] = mature ? p->mature_trapped : 0.0;
    f->film[TL_FI] = mature ? p->mature_inert : 0.0;
}

void still_pour(struct still_film *f, const struct still_water *w)
{
    const double water[TL_NWATER] = {[TL_TAN] = w->tan, [TL_ALK] = w->alk_mg_l / TL_CACO3_G_PER_EQ};
    struct tl_setup s;

    setup(&s);
    tl_climate_at(&s, 1.0, w->t_degC, &f->climate);
    tl_film_switch_at(&f->model, &f->climate, pow(10.0, -w->ph), water, &f->sw);
    f->water =
        (struct tl_film_water){w->tan, w->no2, w->ss, isnan(w->o2) ? f->climate.o2_sat : w->o2, 0};
}

static void rates(const struct still_film *f, const double *film, double *rate)
{
    tl_film_rates(&f->model, &f->climate, &f->sw, film, SLOUGH_1_D, &f->water, rate);
}

static int derivative(double t, const double film[], double d[], void *arg)
{
    const struct still_film *f = arg;
    double rate[TL_NFILM_PROCESS];

    (void)t;
    rates(f, film, rate);
    for (int i = 0; i < TL_NFILM; i++) {
        d[i] = 0.0;
        for (int p = 0; p < TL_NFILM_PROCESS; p++)
            d[i] += f->model.table.nu[p][TL_COLUMN_FILM + i] * rate[p];
    }
    return GSL_SUCCESS;
}

int still_grow(struct still_film *f, double days)
{
    gsl_odeiv2_system sys = {derivative, NULL, TL_NFILM, f};
    gsl_odeiv2_driver *d =
        gsl_odeiv2_driver_alloc_y_new(&sys, gsl_odeiv2_step_rkf45, 1e-3, 1e-9, 1e-8);
    double t = 0.0;
    const int status = days > 0.0 ? gsl_odeiv2_driver_apply(d, &t, days, f->film) : GSL_SUCCESS;

    gsl_odeiv2_driver_free(d);
    return status == GSL_SUCCESS ? 0 : -1;
}

double still_ammonia_rate(const struct still_film *f)
{
    double rate[TL_NFILM_PROCESS];

    rates(f, f->film, rate);
    return rate[TL_GROW_A] * f->model.table.nu[TL_GROW_A][TL_NO2];
}

double still_nitrite_rate(const struct still_film *f)
{
    double rate[TL_NFILM_PROCESS];

    rates(f, f->film, rate);
    return rate[TL_GROW_N] * f->model.table.nu[TL_GROW_N][TL_NO3];
}

double still_steady_rate(const struct still_water *w)
{
    struct still_film f;

    still_start(&f, true);
    still_pour(&f, w);
    return still_grow(&f, AT_REST_D) == 0 ? still_ammonia_rate(&f) : NAN;
}
