/* Formaldehyde as a keeper measures it out. */
#ifndef TL_FORMALIN_H
#define TL_FORMALIN_H

#include "towerloop/units.h"

struct tl_formalin {
    char text[48]; /* "612 mL of 37 % solution" */
};
/* The 37 % solution that holds so much formaldehyde. */
struct tl_formalin tl_formalin(enum tl_unit_system units, double formaldehyde_g);

#endif
