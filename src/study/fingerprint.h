/* A number for the content of a scenario, so that a study knows again what it has run. */
#ifndef TL_FINGERPRINT_H
#define TL_FINGERPRINT_H

#include <stddef.h>
#include <stdint.h>

#include "towerloop/setup.h"

#define TL_FINGERPRINT_START 0xcbf29ce484222325u

/* `hash` with these bytes mixed in. */
uint64_t tl_fingerprint(uint64_t hash, const void *data, size_t size);

/* `hash` with everything mixed in that the setup has from the files it names, and that the written
 * scenario therefore leaves out: readings, the log of meals, deliveries. */
uint64_t tl_fingerprint_logs(uint64_t hash, const struct tl_setup *s);

#endif
