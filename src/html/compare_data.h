/* The results of a comparison, out of its folder. */
#ifndef TL_HTML_COMPARE_DATA_H
#define TL_HTML_COMPARE_DATA_H

#include <jansson.h>

#include "run_result.h"

struct tl_compare_data {
    json_t *root;  /* compare.json */
    json_t *study; /* study.json */
    struct tl_compare_variant {
        const char *name;
        char *folder; /* of its run */
        const json_t *figures;
        struct tl_run_result result;
    } * variant;
    size_t variants; /* at least one */
};

/* TL_OK; TL_E_INPUT with the reason in `why`; TL_E_MEMORY. Free in any case. */
int tl_compare_data_load(const char *folder, struct tl_compare_data *out, char *why, size_t size);
void tl_compare_data_free(struct tl_compare_data *d);

/* A figure of a variant, as "feed_kg"; NAN: none. */
double tl_compare_data_number(const struct tl_compare_variant *v, const char *name);

#endif
