/* A scenario file read with settings of a study on top of those of the user. */
#include "settings.h"

#include <stdlib.h>

#include "towerloop/status.h"

int tl_settings_read(const char *file, const char *const *user, size_t users,
                     const char *const *study, size_t studies, struct tl_scenario *out,
                     struct tl_diag *diag)
{
    const char **all = calloc(users + studies + 1, sizeof *all);
    if (!all)
        return TL_E_MEMORY;
    for (size_t i = 0; i < users; i++)
        all[i] = user[i];
    for (size_t i = 0; i < studies; i++)
        all[users + i] = study[i];
    const struct tl_scenario_options options = {.set = all, .sets = users + studies};
    const int status = tl_scenario_read(file, &options, out, diag);
    free(all);
    return status;
}
