/* Numbers as text for files: six significant digits, a point whatever the locale, and fast (a run
 * writes a million of them). */
#ifndef TL_NUMBER_H
#define TL_NUMBER_H

#include <stddef.h>

#define TL_NUMBER_SIZE 24

/* Writes what printf("%.6g") writes in the C locale, digit for digit, but 0 for -0 and nothing for a
 * value that is not finite. Writes at most TL_NUMBER_SIZE bytes including the 0; returns the
 * length. */
size_t tl_number_write(char *text, double value);

#endif
