/* The emergency card of a study of failures: putting it together, and writing it as text. */
#ifndef TL_CARD_VIEW_H
#define TL_CARD_VIEW_H

#include <stdio.h>

#include "card.h"
#include "endure_view.h"

#define TL_CARD_TEXT_FILE "card.txt"

/* The least total ammonia (gN/m3) above which the calendar of this scenario's run lets no baking soda be given;
 * INFINITY: it asks for none. Runs it once. TL_OK, TL_E_INTERRUPTED or TL_E_MEMORY. */
int tl_card_soda(const struct tl_scenario *s, const volatile int *interrupted,
                 double *most_tan_gN_m3);

/* All figures are those of the study, of the plans that `water --fix` makes and of tl_card_soda(). TL_OK or
 * TL_E_MEMORY; the card is to be freed in any case, and refers to the study. */
int tl_card_make(const struct tl_endure_study *s, double soda_most_tan_gN_m3,
                 enum tl_unit_system units, struct tl_card *out);
/* The part TL_CARD_TESTS and what is said of it in TL_CARD_BASIS. */
void tl_card_add_tests(const struct tl_endure_study *s, double soda_most_tan_gN_m3,
                       enum tl_unit_system units, struct tl_card *out);

/* A row of the times: each column the worst of the hours that were tried for it. */
struct tl_card_times {
    double caution_min, danger_min, lost_min, outage_d;
    double
        lost_before_d; /* that many fish are lost before it fails: there are no times. NAN: not */
    bool unknown;
};

/* What fails, as its row on the card begins. */
const char *tl_card_failure(const struct tl_endure_study *s, enum tl_failure f);
/* The row of what was asked about. */
struct tl_card_times tl_card_times_of(const struct tl_endure_study *s);
void tl_card_add_times(const struct tl_endure_study *s, enum tl_unit_system units,
                       struct tl_card *out);

/* The water of the row for a warmer day, to a tenth; -INFINITY where there is none. */
double tl_card_warmest_row_degC(const struct tl_endure_study *s);

/* A new row, whose cells are filled in by whoever asks for it. */
struct tl_text *tl_card_row(struct tl_card *c, enum tl_card_part_id id);

void tl_card_text(const struct tl_card *c, FILE *f);
/* TL_OK, TL_E_IO (errno says why). */
int tl_card_write_text(const struct tl_card *c, const char *path);

#endif
