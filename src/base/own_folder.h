/* Where files that belong to the running program lie. */
#ifndef TL_BASE_OWN_FOLDER_H
#define TL_BASE_OWN_FOLDER_H

#include <stdbool.h>
#include <stddef.h>

/* A folder of the running program's own installation, wherever that was moved, or of its own build folder;
 * the source tree is never looked at. `installed` ("share/towerloop/plots") and `built` ("report") are seen
 * from the folder above the program's, `probe` is a file that lies in it. False when neither is there.
 * Writes at most `size` bytes; TL_PATH_SIZE is enough. */
bool tl_own_folder(const char *installed, const char *built, const char *probe, char *path,
                   size_t size);

#endif
