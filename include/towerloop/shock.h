/* What knocks out film, and how fast it comes back. Model document, section "Shocks".
 *
 * What is killed is dead, not asleep: after 37 mg/L of formaldehyde or more nitrification was not back
 * within 8 days (Fredricks et al. 2018), and one that slept would be. */
#ifndef TOWERLOOP_SHOCK_H
#define TOWERLOOP_SHOCK_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/model.h"

/* Formaldehyde in a volume of its 37 % solution (by mass, 1.08 kg/L; common practice). */
#define TL_FORMALDEHYDE_G_PER_M3_SOLUTION 400e3
/* Oxygen to burn it: CH2O + O2. */
#define TL_FORMALDEHYDE_O2_G_PER_G 1.0656
#define TL_FORMALDEHYDE_MOL_PER_G  (1 / 30.026) /* of carbon, too */
/* Trade rule, common practice, no source: 1 mg/L of oxygen goes for 5 mL/m3 of the 37 % solution. */
#define TL_FORMALDEHYDE_G_PER_O2 2.0

bool tl_dose_is_medicine(enum tl_dose dose);
bool tl_setup_gives_medicine(const struct tl_setup *s);
/* The most of a medicine, g/m3 of the pure substance, that anything is known of. */
double tl_medicine_known_to(enum tl_dose dose);
/* What a dose of medicine brings tank and chamber to, g/m3 of the pure substance. */
double tl_medicine_content_g_m3(const struct tl_setup *s, const struct tl_event *e);
/* A medicine is gone so long after its dose; judgement. */
#define TL_MEDICINE_GONE_D 3.0
/* The first dose of a medicine above the most that anything is known of while fish are in, or that meets fish added
 * before it is gone; NULL: none. */
const struct tl_event *tl_setup_overdose(const struct tl_setup *s);
/* Share of the living film, 0..1, that one dose of a medicine kills which brings tank and chamber to this
 * content, g/m3 of the pure substance; 0 for what is no medicine. */
double tl_medicine_kill(enum tl_dose dose, double content_g_m3);
/* The same for a rise of salt, g/m3: many small ones end where a single one does. */
double tl_salt_kill(double from_g_m3, double to_g_m3);

/* Whether an event may kill film by itself: a medicine, salt, a share that was said. */
bool tl_event_is_shock(const struct tl_event *e);
/* Ammonia oxidisers alive anywhere in the loop, gCOD; of the state proper. */
double tl_living_oxidisers_g(const struct tl_model *m, const double *y);
/* Ammonia oxidised since the start, gN; of the running totals. */
double tl_ammonia_oxidised_g(const struct tl_model *m, const double *y);

#endif
