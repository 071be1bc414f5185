/* Folders compared, then block after block added up. */
#include "spread_merge.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "place.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

/* --- what belongs together ---------------------------------------------------------------------- */

/* NULL and nothing in `why`: out of memory. */
static json_t *load_study(const char *folder, char *why, size_t size)
{
    errno = 0;
    char *path = tl_place_below(folder, "study.json");
    json_t *study = path ? tl_json_read(path) : NULL;
    const bool no_memory = !study && errno == ENOMEM;
    free(path);
    const char *kind = json_string_value(json_object_get(study, "kind"));
    if (kind && strcmp(kind, "spread") == 0 && json_is_object(json_object_get(study, "question")))
        return study;
    if (!no_memory)
        (void)tl_format(why, size, "%s is no folder of towerloop spread", folder);
    json_decref(study);
    return NULL;
}

/* A value as one may read it. */
static const char *said(const json_t *value, char *text, size_t size)
{
    if (json_is_string(value))
        return json_string_value(value);
    (void)tl_format(text, size, "%lld", (long long)json_integer_value(value));
    return text;
}

/* The first thing in which a shard is of another study than the first; NULL: it is not. */
static bool is_other(const json_t *first, const json_t *other, const char *const folder[2],
                     char *why, size_t size)
{
    static const struct {
        const char *name, *words;
        bool shown; /* both values */
    } row[] = {{"scenario", "the scenario (its file, a file it names, or --set)", false},
               {"runs", "--runs", true},
               {"seed", "--seed", true},
               {"lanes", "--level", true},
               {"sensitivity", "--sensitivity", false},
               {"inputs", "the uncertain inputs", false},
               {"shards", "the number of parts", true},
               {"commit", "the version of towerloop", true},
               {"compiler", "the compiler of towerloop", true},
               {"gsl", "the version of GSL", true},
               {"dispatch", "the kind of processor", true}};
    char a[40], b[40];
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        const json_t *x = json_object_get(json_object_get(first, "question"), row[i].name);
        const json_t *y = json_object_get(json_object_get(other, "question"), row[i].name);
        if (!x && !y) {
            x = json_object_get(json_object_get(first, "build"), row[i].name);
            y = json_object_get(json_object_get(other, "build"), row[i].name);
        }
        if (x == y || json_equal(x, y))
            continue;
        if (row[i].shown)
            (void)tl_format(why, size, "%s and %s differ in %s: %s and %s", folder[0], folder[1],
                            row[i].words, said(x, a, sizeof a), said(y, b, sizeof b));
        else
            (void)tl_format(why, size, "%s and %s differ in %s", folder[0], folder[1],
                            row[i].words);
        return true;
    }
    return false;
}

struct listed { /* the blocks in a folder of a shard */
    const char *folder;
    struct tl_spread_shard shard;
    size_t blocks; /* of the whole spread */
    char *why;
    size_t size;
};

static int see_block(void *arg, const char *name, enum tl_posix_kind kind)
{
    const struct listed *l = arg;
    char own[TL_BLOCK_NAME_SIZE];
    const unsigned long index = strtoul(name, NULL, 10);
    tl_block_name((uint32_t)index, own);
    if (kind != TL_POSIX_FILE || strcmp(own, name) != 0)
        return TL_OK; /* one under way when the program was stopped */
    if (index < l->blocks && index % l->shard.of == l->shard.index - 1u)
        return TL_OK;
    (void)tl_format(l->why, l->size, "%s holds %s, which is none of part %u of %u", l->folder, name,
                    l->shard.index, l->shard.of);
    return TL_E_INPUT;
}

/* --- opening ------------------------------------------------------------------------------------ */

static int take_folder(struct tl_merge *m, const char *folder, const json_t *study,
                       struct tl_spread_shard shard, char *why, size_t size)
{
    if (shard.of != m->folders) {
        (void)tl_format(why, size,
                        "%s is part %u of %u, and %zu folder%s given; expected all %u, each once",
                        folder, shard.index, shard.of, m->folders,
                        m->folders == 1 ? " was" : "s were", shard.of);
        return TL_E_INPUT;
    }
    char **place = &m->folder[shard.index - 1];
    if (*place) {
        (void)tl_format(why, size, "%s is part %u of %u, which was given already", folder,
                        shard.index, shard.of);
        return TL_E_INPUT;
    }
    *place = tl_place_below(folder, TL_SPREAD_BLOCKS);
    if (!*place)
        return TL_E_MEMORY;
    if (!json_is_true(json_object_get(study, "complete"))) {
        (void)tl_format(why, size,
                        "%s is not finished; expected a part that ran to its end: the same command "
                        "goes on with it",
                        folder);
        return TL_E_INPUT;
    }
    struct listed l = {folder, shard, (m->spread.runs + TL_BLOCK_RUNS - 1) / TL_BLOCK_RUNS, why,
                       size};
    const int status = tl_posix_list(*place, see_block, &l);
    if (status == TL_E_IO)
        (void)tl_format(why, size,
                        "%s holds no runs; expected the folder of a part, as towerloop spread "
                        "--shard made it: what towerloop merge made has the results alone",
                        folder);
    return status == TL_E_IO ? TL_E_INPUT : status;
}

/* Look at one of the folders; the first says what the others have to be like. */
static int open_folder(struct tl_merge *m, const char *const *folder, size_t i, char *why,
                       size_t size)
{
    const char *const both[] = {folder[0], folder[i]};
    struct tl_spread other;
    struct tl_spread_shard shard;
    json_t *study = load_study(folder[i], why, size);
    if (!study)
        return *why ? TL_E_INPUT : TL_E_MEMORY;
    if (i > 0 && is_other(m->study, study, both, why, size)) {
        json_decref(study);
        return TL_E_INPUT;
    }
    int status = tl_spread_from_question(json_object_get(study, "question"), &other, &shard);
    if (status == TL_E_INPUT)
        (void)tl_format(why, size, "%s: study.json cannot be understood", folder[i]);
    if (i == 0 && status == TL_OK) {
        m->spread = other;
        m->study = json_incref(study);
    } else if (status == TL_OK) {
        free(other.input);
    }
    if (status == TL_OK)
        status = take_folder(m, folder[i], study, shard, why, size);
    json_decref(study);
    return status;
}

/* The scenario that the shard wrote, and copies of what it names. */
static int read_scenario(struct tl_merge *m, const char *folder)
{
    const json_t *names = json_object_get(m->study, "inputs");
    const size_t n = json_array_size(names);
    struct tl_diag diag;
    char *path = tl_place_below(folder, "scenario.yaml");
    m->input = calloc(n + 1, sizeof *m->input);
    if (!path || !m->input) {
        free(path);
        return TL_E_MEMORY;
    }
    for (size_t i = 0; i < n; i++) {
        struct tl_text t = {0};
        const char *name = json_string_value(json_array_get(names, i));
        tl_text_addf(&t, "%s/inputs/%s", folder, name ? name : "");
        m->input[i] = t.data;
        if (t.failed) {
            free(path);
            return TL_E_MEMORY;
        }
    }
    tl_diag_init(&diag);
    const int status = tl_scenario_read(path, NULL, &m->scenario, &diag);
    tl_diag_free(&diag);
    m->read = status == TL_OK;
    free(path);
    return status == TL_E_IO ? TL_E_INPUT : status;
}

/* Once more what the shards were asked, now from what lies there. */
static int settle(struct tl_merge *m, const char *folder, char *why, size_t size)
{
    int status = read_scenario(m, folder);
    if (status == TL_OK) {
        m->spread.scenario = &m->scenario;
        const json_t *build = json_object_get(m->study, "build");
        m->spread.build = json_copy((json_t *)build);
        const bool whole =
            json_object_set(m->spread.build, "version", json_object_get(m->study, "version")) == 0;
        status = whole                   ? tl_spread_prepare(&m->spread)
                 : json_is_object(build) ? TL_E_MEMORY
                                         : TL_E_INPUT;
    }
    if (status == TL_OK) {
        json_t *question = tl_spread_question(&m->spread, NULL);
        const json_t *asked = json_object_get(m->study, "question");
        if (!question)
            status = TL_E_MEMORY;
        else if (!json_equal(json_object_get(question, "scenario"),
                             json_object_get(asked, "scenario")))
            status = TL_E_INPUT;
        json_decref(question);
    }
    if (status == TL_E_INPUT)
        (void)tl_format(why, size, "%s: scenario.yaml, or what it names, is not what was run",
                        folder);
    return status;
}

int tl_merge_open(const char *const *folder, size_t folders, struct tl_merge *m, char *why,
                  size_t size)
{
    *m = (struct tl_merge){.folders = folders, .folder = calloc(folders + 1, sizeof *m->folder)};
    *why = '\0';
    int status = m->folder ? TL_OK : TL_E_MEMORY;
    for (size_t i = 0; i < folders && status == TL_OK; i++)
        status = open_folder(m, folder, i, why, size);
    return status == TL_OK ? settle(m, folder[0], why, size) : status;
}

void tl_merge_close(struct tl_merge *m)
{
    tl_spread_free(&m->spread);
    free(m->spread.input);
    m->spread.input = NULL;
    if (m->read)
        tl_scenario_free(&m->scenario);
    for (size_t i = 0; m->folder && i < m->folders; i++)
        free(m->folder[i]);
    for (size_t i = 0; m->input && m->input[i]; i++)
        free(m->input[i]);
    free(m->folder);
    free(m->input);
    json_decref(m->study);
    m->study = NULL;
}

/* --- adding up ---------------------------------------------------------------------------------- */

int tl_spread_read_block(const struct tl_spread *s, const char *folder, size_t index,
                         struct tl_block *b, char *why, size_t size)
{
    char name[TL_BLOCK_NAME_SIZE];
    tl_block_name((uint32_t)index, name);
    b->index = (uint32_t)index;
    b->runs = tl_spread_block_runs(s, index);
    char *path = tl_place_below(folder, name);
    const int status = path ? tl_block_read(b, s->print, path) : TL_E_MEMORY;
    free(path);
    if (status == TL_E_INPUT)
        (void)tl_format(why, size,
                        "%s/%s is missing or damaged; the same command that made the folder runs "
                        "it again",
                        folder, name);
    return status;
}

int tl_spread_collect(const struct tl_spread *s, const char *const *folder, size_t folders,
                      const volatile int *interrupted, struct tl_tally *t, char *why, size_t size)
{
    struct tl_block b;
    int status = tl_spread_block_new(s, &b);
    *why = '\0';
    for (size_t i = 0; i < tl_spread_blocks(s) && status == TL_OK; i++) {
        status = interrupted && *interrupted
                     ? TL_E_INTERRUPTED
                     : tl_spread_read_block(s, folder[i % folders], i, &b, why, size);
        if (status == TL_OK)
            tl_tally_add(t, &b);
    }
    tl_block_free(&b);
    return status;
}
