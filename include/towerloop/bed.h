/* How the media fared: the oxygen that is left in each tray, what fills their voids, how much of the film
 * oxygen does not reach; and where neither oxygen nor nitrate was left for hours, so that hydrogen sulfide
 * can form. Sulfide itself is not reckoned. */
#ifndef TOWERLOOP_BED_H
#define TOWERLOOP_BED_H

#include <stdbool.h>

#include "towerloop/model.h"

/* Less than half of the rate on oxygen and on nitrate is left below these (half-saturations of ASM1, Henze et
 * al. 2000): taken as neither. */
#define TL_WITHOUT_O2_G_M3  0.2
#define TL_WITHOUT_NO3_G_M3 0.5 /* as N */
/* So long a spell is warned of. Judgement: sulfide has been seen within hours of nitrate running out. */
#define TL_WITHOUT_H 3.0

/* The largest or smallest of something over the trays and the run. */
struct tl_bed_extreme {
    double value; /* NAN: the tower never ran */
    double at_d;  /* days since day 0 */
    int tray;     /* 1 is the uppermost */
};

/* Time on end without oxygen and nitrate. */
struct tl_bed_spell {
    double longest_h;
    double first_d; /* when the first one of TL_WITHOUT_H began; NAN: there was none */
};

struct tl_bed_result {
    bool submerged;
    struct tl_bed_extreme least_o2;     /* of the water leaving a tray, g/m3 */
    struct tl_bed_extreme most_filled;  /* voids, 0..1 */
    struct tl_bed_extreme most_airless; /* film without oxygen, 0..1 */
    struct tl_bed_spell bed;     /* a tray; media under water that stand still count as such */
    struct tl_bed_spell chamber; /* the water over the sludge */
};

/* Whether a warning of hydrogen sulfide is due. */
bool tl_bed_sulfide(const struct tl_bed_result *r);

/* Gathers it from samples in the order of time. The trays are looked at every hour when they lie under
 * water, else, where all of it moves slowly, at 0, 6, 12 and 18 o'clock. */
struct tl_bed_watch {
    struct tl_bed_result result;
    double bed_since_d; /* without either since; NAN: it has some */
    double chamber_since_d;
};

void tl_bed_watch_begin(struct tl_bed_watch *w, const struct tl_model *m);
/* `y` is the state proper at the instant. TL_OK or TL_E_SOLVER. */
int tl_bed_watch_add(struct tl_bed_watch *w, const struct tl_model *m, struct tl_work *work,
                     const struct tl_controls *c, double t_d, const double *y);

#endif
