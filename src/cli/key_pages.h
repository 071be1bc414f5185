/* The list of keys as text, as JSON, and as a JSON Schema. */
#ifndef TL_KEY_PAGES_H
#define TL_KEY_PAGES_H

#include <jansson.h>
#include <stdbool.h>

#include "towerloop/keys.h"

/* Print the keys that are `chosen` (one flag a key). `narrowed`: they are few, so tell more. */
void tl_keys_print(const bool *chosen, bool narrowed, enum tl_unit_system units);
/* Print the table of media, the first letter of its status behind each figure. */
void tl_media_print(enum tl_unit_system units);
/* The same as an array; NULL when out of memory. */
json_t *tl_media_json(void);
/* The same as an object; NULL when out of memory. */
json_t *tl_keys_json(const bool *chosen, enum tl_unit_system units);
/* The form of a scenario file as a JSON Schema (draft 2020-12); NULL when out of memory. */
json_t *tl_keys_schema(void);

#endif
