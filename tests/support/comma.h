/* A locale that writes 1.5 as "1,5", for tests that nothing depends on the locale. */
#ifndef TOWERLOOP_TESTS_COMMA_H
#define TOWERLOOP_TESTS_COMMA_H

#include <stdbool.h>

/* Makes such a locale with localedef(1), which comes with the C library, and sets it. False when the
 * system has none. */
bool comma_locale_set(void);
/* Back to the C locale. */
void comma_locale_reset(void);

#endif
