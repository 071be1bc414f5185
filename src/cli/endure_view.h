/* The answer of `towerloop endure`: on the terminal, and as files. */
#ifndef TL_ENDURE_VIEW_H
#define TL_ENDURE_VIEW_H

#include <stdbool.h>
#include <stdio.h>

#include "text.h"
#include "towerloop/endure.h"
#include "towerloop/units.h"
#include "towerloop/verdict.h"

/* What the failure that is asked about comes to: oxygen through the outage, and all limits for as long as
 * it was followed. Like a run, it is never within limits outside a published range. */
enum tl_grade tl_endure_grade(const struct tl_endure_study *s);
/* The same in words: one of those of tl_outcome_verdict(). */
const char *tl_endure_verdict(const struct tl_endure_study *s);

/* What a failure is in this loop, which may have nothing but a pump, or nothing but an aerator. */
const char *tl_endure_words(const struct tl_endure_study *s, enum tl_failure f);
/* Whether it is one of its own here. */
bool tl_endure_tells(const struct tl_endure_study *s, enum tl_failure f);

/* "5 h 17 min": whole minutes that have passed, never more than there are. */
#define TL_ENDURE_SHOWN 48
void tl_endure_span(char text[TL_ENDURE_SHOWN], double minutes);
/* The aerator that would do, g/h, rounded up to three digits; 0: none is needed; INFINITY: none would do. */
double tl_endure_need_g_h(const struct tl_endure_study *s);

/* "2027-07-23 at 16:00" */
void tl_endure_add_moment(struct tl_text *t, const struct tl_endure_study *s, double at_d);
/* What ice, cold, heat or a change of temperature does, when, and what helps: sentences of which the first
 * begins a line. `mark` stands behind what is common practice. */
void tl_endure_add_frost(struct tl_text *t, const struct tl_endure_study *s,
                         const struct tl_worst_hour *when, const struct tl_endure_frost *f,
                         enum tl_unit_system units, const char *mark);

void tl_endure_text(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f);

/* endure.csv (a row a case), oxygen.csv (the courses) and endure.json. TL_OK, TL_E_IO (errno says why)
 * or TL_E_MEMORY. */
int tl_endure_write_csv(const struct tl_endure_study *s, const char *path);
int tl_endure_write_courses(const struct tl_endure_study *s, const char *path);
int tl_endure_write_json(const struct tl_endure_study *s, const char *path);

/* The courses of the stocking levels in water of its own temperature are cases of the table. */
static inline size_t tl_endure_course(size_t level)
{
    return TL_ENDURE_TABLE + level * TL_ENDURE_WARMTHS + 1;
}

#endif
