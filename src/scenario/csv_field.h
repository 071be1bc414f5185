/* The fields of a line of CSV (RFC 4180, but for line feeds inside quotation marks). */
#ifndef TL_SCENARIO_CSV_FIELD_H
#define TL_SCENARIO_CSV_FIELD_H

#include <stddef.h>

/* Copy the field at `s`, without blanks and quotation marks around it, into `field` of `size` bytes;
 * returns what follows it, and NULL behind the last of the line. A field too long is cut. */
const char *tl_csv_field(const char *s, char *field, size_t size);

#endif
