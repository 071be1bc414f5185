/* Reads the folder of a comparison. */
#include "compare_data.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "place.h"
#include "text.h"
#include "towerloop/status.h"

static json_t *load(const char *folder, const char *name, bool *no_memory)
{
    char *path = tl_place_below(folder, name);
    json_t *root = path ? tl_json_read(path) : NULL;
    *no_memory = *no_memory || !path || (!root && errno == ENOMEM);
    free(path);
    return root;
}

/* "runs/one-pump", and nothing that leads elsewhere. */
static bool is_run(const char *run)
{
    static const char below[] = "runs/";
    const size_t n = sizeof below - 1;
    return run && strncmp(run, below, n) == 0 && run[n] && run[n] != '.' && !strchr(run + n, '/');
}

static int load_variant(const char *folder, const json_t *row, struct tl_compare_variant *out)
{
    const char *run = json_string_value(json_object_get(row, "run"));
    out->name = json_string_value(json_object_get(row, "name"));
    out->figures = row;
    if (!out->name || !is_run(run))
        return TL_E_INPUT;
    out->folder = tl_place_below(folder, run);
    return out->folder ? tl_run_result_load(out->folder, &out->result) : TL_E_MEMORY;
}

int tl_compare_data_load(const char *folder, struct tl_compare_data *out, char *why, size_t size)
{
    bool no_memory = false;
    *out = (struct tl_compare_data){.root = load(folder, "compare.json", &no_memory),
                                    .study = load(folder, "study.json", &no_memory)};
    const json_t *rows = json_object_get(out->root, "variants");
    const size_t n = json_array_size(rows);
    int status = out->study && n > 0 ? TL_OK : TL_E_INPUT;
    out->variant = calloc(n + 1, sizeof *out->variant);
    if (!out->variant || no_memory)
        return TL_E_MEMORY;
    for (; out->variants < n && status == TL_OK; out->variants++)
        status =
            load_variant(folder, json_array_get(rows, out->variants), &out->variant[out->variants]);
    if (status == TL_E_IO)
        tl_format(why, size, "a result in %s cannot be read: %s", folder, strerror(errno));
    else if (status == TL_E_INPUT)
        tl_format(why, size,
                  "%s holds no comparison that this version wrote whole; expected compare.json, "
                  "study.json and the folders of all its runs",
                  folder);
    return status;
}

void tl_compare_data_free(struct tl_compare_data *d)
{
    for (size_t i = 0; d->variant && i < d->variants; i++)
        free(d->variant[i].folder);
    free(d->variant);
    json_decref(d->root);
    json_decref(d->study);
    *d = (struct tl_compare_data){.variants = 0};
}

double tl_compare_data_number(const struct tl_compare_variant *v, const char *name)
{
    const json_t *value = json_object_get(v->figures, name);
    return json_is_number(value) ? json_number_value(value) : NAN;
}
