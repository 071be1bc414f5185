/* A scenario file read with settings of a study on top of those of the user. */
#ifndef TL_STUDY_SETTINGS_H
#define TL_STUDY_SETTINGS_H

#include <stddef.h>

#include "towerloop/diag.h"
#include "towerloop/scenario.h"

/* `user` first, `study` after them: of two for one key the later holds. Each is KEY=VALUE as for --set.
 * The status of tl_scenario_read(), or TL_E_MEMORY; `out` is empty unless TL_OK. */
int tl_settings_read(const char *file, const char *const *user, size_t users,
                     const char *const *study, size_t studies, struct tl_scenario *out,
                     struct tl_diag *diag);

#endif
