/* Aquatic life criteria for ammonia: US EPA 2013, EPA 822-R-13-001, in mg TAN/L as N.
 *
 * pH 6.5-9.0, 0-30 degC; the acute ones are one-hour means, the chronic ones 30-day means. */
#include "towerloop/chem.h"

#include <math.h>

#include "water_kernel.h"

/* From `acid` at low pH to `alkaline` at high pH, half way at `pk`. */
static double sigmoid(double ph, double pk, double alkaline, double acid)
{
    const double x = pow(10.0, ph - pk);

    return (alkaline * x + acid) / (1.0 + x);
}

/* Acute criterion (CMC). Salmonids present: the lesser of the salmonids' own and the other animals'
 * value; absent: capped by the most sensitive of the other fish. */
double tl_epa_ammonia_acute(double t_degC, double ph, bool salmonids_present)
{
    const double others = 23.12 * pow(10.0, 0.036 * (20.0 - t_degC));
    const double scale = 0.7249 * sigmoid(ph, 7.204, 0.0114, 1.6181);

    if (salmonids_present)
        return fmin(sigmoid(ph, 7.204, 0.275, 39.0), scale * others);
    return scale * fmin(51.93, others);
}

/* Chronic criterion (CCC). Mussels absent is the recalculation of the document's appendix N for
 * water without early life stages of fish; its factor 0.9405 as adopted in Arizona's rules. */
double tl_epa_ammonia_chronic(double t_degC, double ph, bool mussels_present)
{
    const double scale = sigmoid(ph, 7.688, 0.0278, 1.1994);
    const double warmth = pow(10.0, 0.028 * (20.0 - fmax(t_degC, 7.0)));

    if (mussels_present)
        return 0.8876 * scale * 2.126 * warmth;
    return 0.9405 * scale * 7.547 * warmth;
}

void tl_epa_ammonia_warmth(double t_degC, struct tl_epa_warmth *w)
{
    lane_epa_ammonia_warmth(t_degC, w);
}

void tl_epa_ammonia_at(const struct tl_epa_warmth *w, double h_mol_L, double *acute,
                       double *chronic)
{
    lane_epa_ammonia_at(w, h_mol_L, acute, chronic);
}
