/* FNV-1a, 64 bits: http://www.isthe.com/chongo/tech/comp/fnv, offset and prime from memory. */
#include "fingerprint.h"

#include <string.h>

uint64_t tl_fingerprint(uint64_t hash, const void *data, size_t size)
{
    const unsigned char *byte = data;
    for (size_t i = 0; i < size; i++)
        hash = (hash ^ byte[i]) * 0x100000001b3u;
    return hash;
}

static uint64_t number(uint64_t hash, double x)
{
    return tl_fingerprint(hash, &x, sizeof x);
}

static uint64_t table(uint64_t hash, const struct tl_table *t)
{
    hash = tl_fingerprint(hash, t->x, t->n * sizeof *t->x);
    return tl_fingerprint(hash, t->y, t->n * sizeof *t->y);
}

/* Not the bytes of the struct: what lies between its members is anything. */
static uint64_t delivery(uint64_t hash, const struct tl_event *e)
{
    hash = number(hash, e->at_d);
    hash = number(hash, e->kind);
    hash = number(hash, e->fish.count);
    hash = number(hash, e->fish.mean_mass_g);
    return tl_fingerprint(hash, e->fish.name, strlen(e->fish.name) + 1);
}

uint64_t tl_fingerprint_logs(uint64_t hash, const struct tl_setup *s)
{
    hash = table(hash, &s->temperature.readings);
    hash = table(hash, &s->weather.air.readings);
    for (int i = 0; i < TL_NWEATHER_LOG; i++)
        hash = table(hash, &s->weather.log[i]);
    hash = table(hash, &s->feeding.log);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].logged)
            hash = delivery(hash, &s->event[i]);
    return hash;
}
