/* What the program's JSON files have in common. */
#ifndef TL_JSON_H
#define TL_JSON_H

#include <jansson.h>

/* null for what is not finite: JSON knows no NaN. */
json_t *tl_json_number(double value);
/* Put `value` (which is taken over) into an object or at the end of an array. When there is no memory for
 * it, the value itself included, the whole is given up and becomes NULL, which later calls leave so:
 * what is built with them is complete or NULL. */
void tl_json_put(json_t **object, const char *key, json_t *value);
void tl_json_append(json_t **array, json_t *value);
/* An array of texts. NULL: out of memory. */
json_t *tl_json_texts(const char *const *text, size_t n);
/* What made the program: commit, compiler, gsl, dispatch. */
json_t *tl_json_build(void);
/* `content` (which is taken over) behind what every result file begins with: format, version, build.
 * NULL when out of memory, or when `content` is NULL. */
json_t *tl_json_result(int format, json_t *content);

/* The whole of a JSON file of at most 16 MiB; NULL when there is none that can be read, or it is a folder, a
 * pipe or a device. errno is ENOMEM then if memory ran out, and something else if not. */
json_t *tl_json_read(const char *path);

/* Write `root` (which is taken over) to a file, which appears under `path` when whole and ends in a line
 * feed; `flags` are those of json_dumps(). TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY (`root` is
 * NULL, too). */
int tl_json_write(json_t *root, const char *path, size_t flags);

#endif
