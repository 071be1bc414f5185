/* What runs that were killed have left beside the place of their results. */
#ifndef TL_RUN_LEFTOVER_H
#define TL_RUN_LEFTOVER_H

#include <stdbool.h>

/* Calls `see` with the path of each draft, or of earlier results that were moved away (`old`), beside `place`
 * that holds something and that no process keeps (tl_posix_keep_folder). TL_OK, also where the folder cannot be listed; TL_E_MEMORY. */
int tl_run_leftovers(const char *place, void (*see)(void *arg, const char *path, bool old),
                     void *arg);

#endif
