/* Is a picture file whole? */
#ifndef TOWERLOOP_REPORT_PICTURE_H
#define TOWERLOOP_REPORT_PICTURE_H

#include <stdbool.h>
#include <stddef.h>

/* PNG: signature, chunks that add up to the file, IEND last, and more in it than one colour can take.
 * SVG: <svg … </svg>. PDF: %PDF- … %%EOF. The ending of the name tells the kind. False with the
 * reason in `why`. */
bool tl_picture_whole(const char *path, char *why, size_t size);
/* Do two files exist and hold the same bytes? */
bool tl_same_bytes(const char *a, const char *b);

#endif
