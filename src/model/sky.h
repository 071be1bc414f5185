/* What the sky does to the loop besides its warmth, in one lane or many (lanes.h). */
#ifndef TL_MODEL_SKY_H
#define TL_MODEL_SKY_H

#include "lanes.h"

struct tl_sky {
    real tower, tank;     /* light that falls on them after their shade, W/m2 */
    real evaporates_m3_d; /* and is made up with source water; below 0: dew, and more overflow */
    real frozen;          /* share of the surface that ice closes, 0..1 */
};

#endif
