/* Where results go: what lies there already, the folders above, paths below. */
#ifndef TL_PLACE_H
#define TL_PLACE_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "posix.h"

/* A copy without slashes at its end. Caller frees; NULL: out of memory. */
char *tl_place_new(const char *path);
/* "<folder>/<name>"; caller frees; NULL when out of memory. */
char *tl_place_below(const char *folder, const char *name);

/* Whether nothing lies at `place`, or an empty folder: *vacant says so. TL_OK; TL_E_REFUSED (no folder)
 * or TL_E_IO with a message in `why`. */
int tl_place_look(const char *place, bool *vacant, char *why, size_t size);
/* Whether a file may be written to `path`: nothing is there, or, with `force`, a page or a picture of the program's own
 * (`known`: whoever made it). TL_OK; TL_E_REFUSED or TL_E_IO with a message in `why`. */
int tl_place_file(const char *path, bool force, bool known, char *why, size_t size);
/* Whether none of the files, closed by NULL, lies in the folder at `place`, which is to be replaced. TL_OK; TL_E_REFUSED
 * with a message in `why`. */
int tl_place_apart(const char *place, const char *const *file, char *why, size_t size);
/* Whether there is a folder with nothing in it. */
bool tl_place_is_empty(const char *folder);
/* Whether this is the folder of a drawing that was under way when the program was killed. */
bool tl_place_is_drawing(const char *name, enum tl_posix_kind kind);
/* Whether this is "<place_name><stem>xxxxxx", a folder that was made beside a place of that name. */
bool tl_place_is_beside(const char *name, const char *place_name, const char *stem);
/* The name that a file gets when it is written whole: without ".partial". Caller frees; NULL: out of memory. */
char *tl_place_whole_name(const char *name);
/* Whether results described by `json` keep a copy of a file of that name in inputs/. */
bool tl_place_has_input(const json_t *json, const char *name);

/* Make the folders above `path` that are missing, and count them. TL_OK, TL_E_IO (errno says why) or
 * TL_E_MEMORY. */
int tl_place_parents(const char *path, int *made);
/* Remove the lowest `made` folders above `path`, as long as they are empty; cuts `path` down. */
void tl_place_no_parents(char *path, int made);

#endif
