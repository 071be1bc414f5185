/* Chances out of JSON, as other programs' files have them, in a table. */
#ifndef TL_HTML_CHANCE_CELL_H
#define TL_HTML_CHANCE_CELL_H

#include <jansson.h>
#include <stdbool.h>

#include "chance.h"
#include "writer.h"

/* An object with runs, of, low and high; whether it is one. */
bool tl_chance_read(const json_t *chance, struct tl_chance *out);
/* "83 (80-86)", of 100 runs, or "-" where there is none. `class` where the count is not 0; NULL: none. */
void tl_chance_cell(struct tl_html *h, const json_t *chance, const char *class);

#endif
