/* report.html: what the scenario asks for, in the words of `check`, and the page. */
#include "report_file.h"

#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "compare_data.h"
#include "place.h"
#include "towerloop/status.h"
#include "understood.h"

#define WHY_SIZE 1024

/* Lines as they are heard. */
struct heard {
    struct tl_asked *line; /* its texts are ours */
    size_t lines;
    bool skipping; /* what the page has elsewhere */
    bool failed;
};

static void hear(void *arg, const char *label, const char *text)
{
    struct heard *h = arg;
    if (*label)
        h->skipping = strcmp(label, "Title") == 0 || strcmp(label, "Variants") == 0;
    if (h->skipping)
        return;
    struct tl_asked *more = text ? realloc(h->line, (h->lines + 1) * sizeof *more) : NULL;
    if (!more) {
        h->failed = true;
        return;
    }
    h->line = more;
    struct tl_asked *line = &h->line[h->lines++];
    *line = (struct tl_asked){strdup(label), strdup(text)};
    h->failed = h->failed || !line->label || !line->text;
}

static void forget(struct heard *h)
{
    for (size_t i = 0; i < h->lines; i++) {
        free((char *)h->line[i].label);
        free((char *)h->line[i].text);
    }
    free(h->line);
}

static int listen(const struct tl_scenario *scenario, enum tl_unit_system units, struct heard *h)
{
    struct tl_understood u;
    int status = tl_understood_make(scenario, NULL, &u);
    if (status == TL_OK) {
        u.hear = hear;
        u.hear_arg = h;
        tl_understood_tell(&u, units);
    }
    tl_understood_free(&u);
    return status == TL_OK && h->failed ? TL_E_MEMORY : status;
}

/* The scenario of a run; it was written by us, so there is nothing to be told about it. */
static int listen_to(const char *folder, enum tl_unit_system units, struct heard *h)
{
    struct tl_scenario scenario;
    struct tl_diag diag;
    char *path = tl_place_below(folder, "scenario.yaml");
    tl_diag_init(&diag);
    int status = path ? tl_scenario_read(path, NULL, &scenario, &diag) : TL_E_MEMORY;
    if (status == TL_OK) {
        status = listen(&scenario, units, h);
        tl_scenario_free(&scenario);
    }
    tl_diag_free(&diag);
    free(path);
    return status;
}

/* Of a run, or of each variant. */
static int listen_all(const struct tl_report *r, enum tl_report_kind kind, struct heard **out,
                      size_t *n, char *why)
{
    struct tl_compare_data d = {.variants = 1};
    int status =
        kind != TL_REPORT_COMPARE ? TL_OK : tl_compare_data_load(r->folder, &d, why, WHY_SIZE);
    *out = calloc(d.variants + 1, sizeof **out);
    if (!*out)
        status = TL_E_MEMORY;
    for (*n = 0; status == TL_OK && *n < d.variants; ++*n)
        status = kind != TL_REPORT_COMPARE ? listen(r->scenario, r->units, *out)
                                           : listen_to(d.variant[*n].folder, r->units, &(*out)[*n]);
    if (kind == TL_REPORT_COMPARE)
        tl_compare_data_free(&d);
    return status;
}

static int write(struct tl_report *r, enum tl_report_kind kind, const struct heard *heard, size_t n,
                 const char *place, char *why)
{
    static int (*const page[])(const struct tl_report *, const char *, char *,
                               size_t) = {tl_report_run, tl_report_compare, tl_report_spread};
    struct tl_told *told = calloc(n + 1, sizeof *told);
    char *path = tl_place_below(place, TL_REPORT_FILE);
    int status = TL_E_MEMORY;
    if (told && path) {
        for (size_t i = 0; i < n; i++)
            told[i] = (struct tl_told){heard[i].line, heard[i].lines};
        r->told = told;
        status = page[kind](r, path, why, WHY_SIZE);
        r->told = NULL;
    }
    free(told);
    free(path);
    return status;
}

int tl_cli_report(struct tl_report *r, enum tl_report_kind kind, const char *place)
{
    char why[WHY_SIZE] = "";
    struct heard *heard = NULL;
    size_t n = 0;
    r->interrupted = &tl_interrupted;
    int status = listen_all(r, kind, &heard, &n, why);
    if (status == TL_OK)
        status = write(r, kind, heard, n, place, why);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the report cannot be written: %s", *why ? why : tl_status_text(status));
    for (size_t i = 0; heard && i < n; i++)
        forget(&heard[i]);
    free(heard);
    return status;
}
