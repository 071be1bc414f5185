/* The rows of the units, for what compares spellings and for what describes them. */
#ifndef TL_UNITS_UNIT_ROWS_H
#define TL_UNITS_UNIT_ROWS_H

#include "towerloop/units.h"

#define TL_SPELLING_SIZE 64 /* no unit is longer */

struct tl_unit { /* base = (value + offset) x multiply / divide */
    const char *spelling;
    double multiply, divide, offset;
};

struct tl_unit_rows {
    const struct tl_unit *row; /* the first one is the base unit */
    size_t rows;
    const char *listed; /* ", m, cm, mm" */
};
extern const struct tl_unit_rows tl_unit_rows[TL_NDIM];

struct tl_unit_word {
    const char *word, *is;
};
/* Words and signs of a unit and the short form the rows have; closed by NULL. */
extern const struct tl_unit_word tl_unit_words[], tl_unit_signs[];

bool tl_unit_letter(char c);
/* Equal but for capitals, in no locale. */
bool tl_unit_same(const char *a, const char *b, size_t n);
/* Bring a spelling to the form in which units are compared: short forms, single blanks, none beside
 * a slash. False when it is too long for a unit. */
bool tl_unit_normalise(const char *s, char out[TL_SPELLING_SIZE]);

#endif
