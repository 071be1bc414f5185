/* What the files were that a user may go on to edit, so that no change of theirs is replaced. */
#ifndef TL_WRITTEN_H
#define TL_WRITTEN_H

#include <jansson.h>
#include <stddef.h>

/* Puts the checksum of the file at `path` under `name`, its path in the folder of the results; a name that is not UTF-8
 * is left out. TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY. */
int tl_written_add(json_t *written, const char *name, const char *path);

/* Whether the files in `folder` that the object `results` names under "written" are as they were, or gone; results
 * without it are of an older build and pass. TL_OK; TL_E_REFUSED or TL_E_IO with a message in `why`; TL_E_MEMORY. */
int tl_written_check(const char *folder, const json_t *results, char *why, size_t size);

#endif
