/* Follows the days of a run, sample by sample. */
#include "towerloop/daily.h"

#include <math.h>

#include "derived.h"

static struct tl_day no_day(void)
{
    return (struct tl_day){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
}

void tl_daily_init(struct tl_daily *d)
{
    *d = (struct tl_daily){.worst = no_day(),
                           .chlorine = NAN,
                           .chlorine_d = NAN,
                           .spring_tan = NAN,
                           .spring_d = NAN,
                           .spring_degC = NAN,
                           .day = no_day(),
                           .midnight = NAN,
                           .coldest_degC = INFINITY,
                           .warmest_degC = -INFINITY,
                           .peak_tan = NAN};
}

/* A day is over: is it the coldest so far, so that spring begins anew, or warmer than all since? */
static void follow_spring(struct tl_daily *d)
{
    const double mean = d->sum_degC / d->samples;
    if (mean < d->coldest_degC) {
        d->coldest_degC = d->warmest_degC = mean;
        d->spring_tan = d->spring_d = d->spring_degC = NAN;
        d->peak_tan = NAN;
    } else if (mean > d->warmest_degC) {
        d->warmest_degC = mean;
        if (!(d->peak_tan <= d->spring_tan)) {
            d->spring_tan = d->peak_tan;
            d->spring_d = d->peak_d;
            d->spring_degC = d->peak_degC;
        }
        d->peak_tan = NAN;
    }
}

static void close_day(struct tl_daily *d)
{
    if (d->day.o2 < d->worst.o2 || (isnan(d->worst.o2) && !isnan(d->day.o2)))
        d->worst = d->day;
    if (d->samples > 0)
        follow_spring(d);
    d->day = no_day();
    d->sum_degC = d->samples = 0;
}

/* Keep the least, or the most (`sign` -1), and when it was. NAN: nothing is kept so far. */
static void keep(double *kept, double *kept_d, double value, double t_d, double sign)
{
    if (sign * value >= sign * *kept)
        return;
    *kept = value;
    if (kept_d)
        *kept_d = t_d;
}

void tl_daily_add(struct tl_daily *d, const struct tl_snapshot *s, bool occupied)
{
    const double t = s->t_d;
    const double chlorine = fmax(s->tank[TL_HOCL], 0);
    const double co2 = TL_CO2_G_PER_MOL * s->tank_co2_mol_m3;
    const double midnight = floor(t + 1e-9);

    if (midnight != d->midnight) {
        close_day(d);
        d->midnight = midnight;
    }
    if (occupied) {
        keep(&d->day.o2, &d->day.o2_d, s->tank[TL_O2], t, 1);
        keep(&d->day.co2_least, NULL, co2, t, 1);
        keep(&d->day.co2_most, &d->day.co2_most_d, co2, t, -1);
        keep(&d->day.ph_least, &d->day.ph_least_d, s->tank_ph, t, 1);
        keep(&d->day.ph_most, NULL, s->tank_ph, t, -1);
        if (!(s->tank[TL_TAN] <= d->peak_tan)) {
            d->peak_tan = s->tank[TL_TAN];
            d->peak_d = t;
            d->peak_degC = s->temperature_degC;
        }
    }
    if (chlorine > 0)
        keep(&d->chlorine, &d->chlorine_d, chlorine, t, -1);
    d->sum_degC += s->temperature_degC;
    d->samples += 1;
}

void tl_daily_finish(struct tl_daily *d)
{
    close_day(d);
    if (!(d->warmest_degC - d->coldest_degC >= TL_SPRING_K))
        d->spring_tan = d->spring_d = d->spring_degC = NAN;
}
