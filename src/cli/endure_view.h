/* The answer of `towerloop endure`: on the terminal, and as files. */
#ifndef TL_ENDURE_VIEW_H
#define TL_ENDURE_VIEW_H

#include <stdio.h>

#include "towerloop/endure.h"
#include "towerloop/units.h"
#include "towerloop/verdict.h"

/* What the failure that is asked about comes to. */
enum tl_grade tl_endure_grade(const struct tl_endure_study *s);

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
