/* Library functions whose results can be moved, to prove that a check on them can fail.
 *
 * The linker sends every call of a function listed in meson.build to its wrapper in moved.c, calls
 * from within the library included. */
#ifndef TOWERLOOP_TESTS_OUTSIDE_MOVED_H
#define TOWERLOOP_TESTS_OUTSIDE_MOVED_H

/* From here on the function `name` returns its result plus `share` of the size of the first result
 * it gives (the same amount every time). NULL: all functions as they are. */
void moved_set(const char *name, double share);

#endif
