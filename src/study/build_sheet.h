/* What a tower is made of and what it weighs. */
#ifndef TL_BUILD_SHEET_H
#define TL_BUILD_SHEET_H

#include "towerloop/scenario.h"

struct tl_build_sheet {
    double media_m3;
    double media_kg;     /* dry */
    double wet_kg;       /* media, trays and the water the media hold while it runs */
    double flooded_kg;   /* media and trays with every void full: clogged drains */
    double height_m;     /* of the stack */
    double footprint_m2; /* of one tray */
    double lift_m;    /* from the tank's water to the top of the stack, without losses in pipes */
    double pump_m3_d; /* what the pump moves at the start */
    double head_m; /* against which it does, losses in the pipe included; NAN: no curve is given */
    double load_kg_m2;  /* wet, on the ground under the stack */
    double slenderness; /* height over the side of a square tray */
};

/* Weight of what lives and settles in the media is not counted. */
void tl_build_sheet_of(const struct tl_scenario *s, struct tl_build_sheet *out);

#endif
