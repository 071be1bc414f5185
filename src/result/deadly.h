/* Water in which no fish are safe, whatever limits a scenario sets. */
#ifndef TL_DEADLY_H
#define TL_DEADLY_H

#include <stdbool.h>

#include "towerloop/limits.h"
#include "towerloop/verdict.h"

struct tl_text;

/* The value from which on this limit's water is deadly, in the verdict's unit; NAN: none is known. */
double tl_deadly_from(enum tl_limit_id id);
/* Whether a worst value is far beyond the default danger: five times that of un-ionised ammonia, nitrite (with salt),
 * carbon dioxide and chlorine, a fifth of that of oxygen, twice that of chloride, a pH 1.5 beyond, water of 0 degC or of 37. Judgement; carp
 * die within days of 1 to 2 mg/L of un-ionised ammonia as N (from memory). With the default
 * limits all of this is danger anyway. Of a scenario with fish. */
bool tl_deadly(const struct tl_verdict *v);
/* A sentence that names them, or nothing. Appended, after a blank where the text is not empty. */
void tl_deadly_say(const struct tl_verdict *v, struct tl_text *out);

#endif
