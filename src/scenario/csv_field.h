/* The fields of a line of CSV (RFC 4180, but for line feeds inside quotation marks). */
#ifndef TL_SCENARIO_CSV_FIELD_H
#define TL_SCENARIO_CSV_FIELD_H

#include <stdbool.h>
#include <stddef.h>

/* Copy the field at `s`, without blanks and quotation marks around it, into `field` of `size` bytes;
 * returns what follows it, and NULL behind the last of the line. A field too long is cut. */
const char *tl_csv_field(const char *s, char *field, size_t size);

/* Where quotation marks go wrong in the line at `s`, from 1, and in *what how; 0: nowhere. Such a line says
 * otherwise than it looks: what follows an open mark is all one field. */
size_t tl_csv_quote_fault(const char *s, const char **what);
#define TL_CSV_QUOTES_EXPECTED                                                                     \
    "marks around a whole field, as \"a, b\", and each mark inside of it doubled"

/* Whether time_iso (days since day 0) and what time_d says are the same instant, but for digits that were rounded
 * away. */
bool tl_csv_same_time(double iso_d, double time_d);
#define TL_CSV_SAME_TIME_EXPECTED                                                                  \
    "the same instant in both, or one of the columns only; time_d counts from the date of the "    \
    "start"

#endif
