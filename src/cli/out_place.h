/* Where a command's results go. */
#ifndef TL_OUT_PLACE_H
#define TL_OUT_PLACE_H

#include "cli.h"
#include "text.h"

/* "pond" of "ponds/pond.yaml". */
void tl_add_file_stem(struct tl_text *t, const char *path);
/* --out, or out/<stem of the first file><ending>. Caller frees; NULL when out of memory. */
char *tl_out_place(const struct tl_options *o, const char *ending);

#endif
