/* Formaldehyde as a volume of the solution it is sold in. */
#include "formalin.h"

#include "text.h"
#include "towerloop/shock.h"

#define ML_PER_M3       1e6
#define ML_BELOW_M3     1e-3
#define OUNCES_BELOW_M3 3.785411784e-3   /* a gallon: NIST Handbook 44, Appendix C */
#define M3_PER_FL_OUNCE 29.5735295625e-6 /* the same */

struct tl_formalin tl_formalin(enum tl_unit_system units, double formaldehyde_g)
{
    const double m3 = formaldehyde_g / TL_FORMALDEHYDE_G_PER_M3_SOLUTION;
    struct tl_formalin f;
    char volume[32];
    if (units == TL_METRIC && m3 < ML_BELOW_M3)
        tl_format(volume, sizeof volume, "%.3g mL", ML_PER_M3 * m3);
    else if (units == TL_US && m3 < OUNCES_BELOW_M3)
        tl_format(volume, sizeof volume, "%.3g fl oz", m3 / M3_PER_FL_OUNCE);
    else
        tl_display_text(TL_DIM_VOLUME, units, m3, 3, volume, sizeof volume);
    tl_format(f.text, sizeof f.text, "%s of 37 %% solution", volume);
    return f;
}
