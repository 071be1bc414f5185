/* The facade's handle: made by reading a scenario, asked for messages, freed. */
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "handle.h"
#include "text.h"

#define NAME_OF_TEXT "scenario" /* what messages call a scenario that came without a file */

int tl_loop_fail(struct tl_loop *l, int status, const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    const char *why = t.failed ? tl_status_text(TL_E_MEMORY) : tl_text_string(&t);
    const size_t length = tl_utf8_cut(why, sizeof l->fault - 1);
    memcpy(l->fault, why, length);
    l->fault[length] = '\0';
    tl_text_free(&t);
    return status;
}

static int keep_messages(struct tl_loop *l)
{
    const size_t n = l->diag.count;
    l->message = calloc(n + 1, sizeof *l->message);
    l->warning = calloc(n + 1, sizeof *l->warning);
    if (!l->message || !l->warning)
        return TL_E_MEMORY;
    for (size_t i = 0; i < n; i++) {
        l->message[i] = tl_diag_text(&l->diag.message[i]);
        if (!l->message[i])
            return TL_E_MEMORY;
        if (l->diag.message[i].level == TL_DIAG_WARNING)
            l->warning[l->warnings++] = l->message[i];
    }
    return TL_OK;
}

static int name_columns(struct tl_loop *l)
{
    const struct tl_setup *s = &l->scenario.setup;
    const struct tl_series_shape shape = {s->tower.trays, s->sun.given,
                                          s->sun.given && s->green_g_m3 > 0};
    l->columns = tl_series_columns(shape);
    l->capacity = tl_observer_instants(s, l->scenario.report_every_d);
    l->name = calloc(l->columns, sizeof *l->name);
    if (!l->name)
        return TL_E_MEMORY;
    for (size_t c = 0; c < l->columns; c++)
        tl_series_column_name(shape, c, l->name[c], sizeof l->name[c]);
    return TL_OK;
}

/* The words for a scenario that could not be read: its first fault. */
static int refuse(struct tl_loop *l, int status)
{
    for (size_t i = 0; i < l->diag.count && l->message && l->message[i]; i++)
        if (tl_loop_message_is_fault(l, i))
            return tl_loop_fail(l, status, "%s", l->message[i]);
    return tl_loop_fail(l, status, "%s", tl_status_text(status));
}

/* `text` NULL: from the file `path`. */
static int read_scenario(const char *path, const char *text, size_t length, const char *folder,
                         const char *const *set, size_t sets, struct tl_loop **out)
{
    const struct tl_scenario_options options = {.set = set, .sets = sets};
    struct tl_loop *l = calloc(1, sizeof *l);
    *out = l;
    if (!l)
        return TL_E_MEMORY;
    tl_diag_init(&l->diag);
    int status = text ? tl_scenario_read_text(NAME_OF_TEXT, text, length, folder, &options,
                                              &l->scenario, &l->diag)
                      : tl_scenario_read(path, &options, &l->scenario, &l->diag);
    const int kept = keep_messages(l);
    if (!status)
        status = kept;
    if (!status)
        status = name_columns(l);
    if (!status)
        status = tl_model_build(&l->scenario.setup, &l->model);
    return status ? refuse(l, status) : TL_OK;
}

int tl_loop_read(const char *path, const char *const *set, size_t sets, struct tl_loop **loop)
{
    return read_scenario(path, NULL, 0, NULL, set, sets, loop);
}

int tl_loop_read_text(const char *text, size_t length, const char *folder, const char *const *set,
                      size_t sets, struct tl_loop **loop)
{
    if (!folder)
        return read_scenario(NULL, text, length, NULL, set, sets, loop);

    /* the reader takes what stands before a file's name, slash and all */
    struct tl_text place = {0};
    tl_text_addf(&place, "%s%s", folder, *folder ? "/" : "");
    *loop = NULL;
    const int status =
        place.failed ? TL_E_MEMORY
                     : read_scenario(NULL, text, length, tl_text_string(&place), set, sets, loop);
    tl_text_free(&place);
    return status;
}

void tl_loop_free(struct tl_loop *l)
{
    if (!l)
        return;
    free(l->summary);
    tl_trial_free(l->trial);
    tl_snapshot_free(&l->snapshot);
    tl_work_free(l->work);
    free(l->cell);
    free(l->table);
    free(l->name);
    tl_model_free(l->model);
    for (size_t i = 0; i < l->diag.count && l->message; i++)
        free(l->message[i]);
    free(l->message);
    free(l->warning);
    tl_diag_free(&l->diag);
    tl_scenario_free(&l->scenario);
    free(l);
}

size_t tl_loop_messages(const struct tl_loop *l)
{
    return l->diag.count;
}

const char *tl_loop_message(const struct tl_loop *l, size_t index)
{
    return index < l->diag.count && l->message ? l->message[index] : NULL;
}

int tl_loop_message_is_fault(const struct tl_loop *l, size_t index)
{
    return index < l->diag.count && l->diag.message[index].level == TL_DIAG_ERROR;
}

const char *tl_loop_title(const struct tl_loop *l)
{
    return l->scenario.title ? l->scenario.title : "";
}

double tl_loop_start_d(const struct tl_loop *l)
{
    return l->scenario.setup.start_d;
}

double tl_loop_end_d(const struct tl_loop *l)
{
    return l->scenario.setup.start_d + l->scenario.setup.length_d;
}

const char *tl_loop_fault(const struct tl_loop *l)
{
    return l->fault;
}
