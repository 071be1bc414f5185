/* Library functions whose results can be moved, to prove that a check on them can fail.
 *
 * The linker sends every call of a function listed in meson.build to its wrapper in moved.c, calls
 * from within the library included. */
#ifndef TOWERLOOP_TESTS_OUTSIDE_MOVED_H
#define TOWERLOOP_TESTS_OUTSIDE_MOVED_H

#include <stdbool.h>

/* From here on the function `name` returns its result plus `share` of the size of the first result
 * it gives (the same amount every time); a parameter of the model, and a function that fills a
 * table, has its values multiplied by 1 + share. NULL: all as it is. */
void moved_set(const char *name, double share);
/* Is something moved? Then nothing may be remembered. */
bool moved_any(void);

#endif
