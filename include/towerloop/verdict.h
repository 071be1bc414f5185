/* Judges the water of the tank by the limits: worst value, time beyond, first breach, verdict.
 *
 * Fed with one sample every 5 minutes or finer, whatever the rows of output are. Each limit is
 * judged by a mean over its own window (model document, "Limits the verdict uses"):
 *
 *   1 h   un-ionised ammonia, total ammonia short term, nitrite, alkalinity, carbon dioxide, chlorine,
 *         chloride
 *   1 d   nitrate
 *   30 d  total ammonia long term
 *   none  oxygen, pH, temperature (each sample by itself)
 *   1 h, 1 d  change of temperature: highest minus lowest in the time that ends with the sample, in steps of
 *         a 12th and of a 48th of it; judged from the first sample on
 *   day   pH swing: highest minus lowest pH between two midnights
 *
 * A mean is judged once its window, or the whole run if that is shorter, has passed; a mean that is
 * beyond its limit at that first moment counts the whole window as time beyond. */
#ifndef TOWERLOOP_VERDICT_H
#define TOWERLOOP_VERDICT_H

#include <stdbool.h>

#include "towerloop/component.h"
#include "towerloop/limits.h"

/* How often to sample, in days. */
#define TL_VERDICT_PERIOD_D (5.0 / 1440.0)

enum tl_grade { TL_WITHIN, TL_CAUTION, TL_DANGER };

/* "within limits", "caution", "danger". */
const char *tl_grade_text(enum tl_grade g);
/* One value by its two limits (NAN: none); `below`: values below the limit are the bad ones. */
enum tl_grade tl_grade_of(double value, double caution, double danger, bool below);

struct tl_limit_verdict {
    const char *name; /* key of the limit, see limits.h */
    const char *unit; /* of the values below; alkalinity is mg/L as CaCO3 here */
    bool below;       /* values below the limit are the bad ones */
    bool judged;      /* false: the run broke off before it could be; the values are NAN */
    double caution;   /* NAN: none. Total ammonia and nitrite: what applied at the worst moment */
    double danger;
    double worst;         /* the window's mean nearest to, or furthest beyond, the limit */
    double worst_d;       /* end of that window, days since day 0 */
    double hours_caution; /* beyond caution, including the hours beyond danger */
    double hours_danger;
    double first_breach_d; /* first moment beyond caution or danger; NAN: never */
    enum tl_grade grade;
};

/* What films that began new or seeded did in the last TL_READY_DAYS of the run (film_proof.h). */
struct tl_film_work {
    bool asked;       /* they did; else all is 0, as it is of a shorter run */
    double came_in_g; /* ammonia nitrogen for them to oxidise, gN; 0: nothing came from outside */
    double oxidised_g, nitrite_oxidised_g; /* to nitrite, and on to nitrate, gN */
    double growth_1_d;                     /* of their ammonia oxidisers */
};

struct tl_verdict {
    enum tl_grade grade; /* the worst of the limits */
    struct tl_limit_verdict limit[TL_NLIMIT];
    /* First moment from which total ammonia and nitrite stay at or under the `filter ready`
     * thresholds to the end of the run, at least TL_READY_DAYS; NAN when there is none. */
    double low_from_d;
    /* The same; films that began new or seeded have to be shown to do it, too: film_proof.h. */
    double filter_ready_d;
    struct tl_film_work film;
    double hours_empty;     /* without fish: not judged */
    double occupied_from_d; /* first judged moment; NAN: never */
};

#define TL_READY_DAYS 3.0

struct tl_judge; /* the running judgement of one run */

/* `length_d` is the length of the run, beginning at the first sample. TL_OK or TL_E_MEMORY. */
int tl_judge_new(const struct tl_limits *limits, double length_d, struct tl_judge **out);
/* Add the tank at `t_d` (days since day 0, rising). A second sample at the same instant replaces the
 * first as the start of the next interval. While the tank is not `occupied` by the animals the limits
 * are for, nothing but the filter's readiness is followed, and means begin anew when they come.
 * TL_OK or TL_E_MEMORY. */
int tl_judge_add(struct tl_judge *j, double t_d, double temperature_degC,
                 const double water[TL_NWATER], double ph, bool occupied);
/* The verdict on what was added so far. Closes the judgement: nothing can be added afterwards. */
void tl_judge_finish(struct tl_judge *j, struct tl_verdict *out);
/* Into a finished verdict: at `at_d` the tank's temperature changed at once by `jump_degC`, more than the samples
 * of the mixed loop show. The changes within an hour and a day are at least that, for as long as each looks
 * back, and no longer than to `end_d`. NAN limits are none. */
void tl_verdict_take_jump(struct tl_verdict *v, double jump_degC, double at_d, double end_d);
void tl_judge_free(struct tl_judge *j);

#endif
