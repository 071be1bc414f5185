/* What the harnesses share. */
#include "fuzz.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

void tl_fuzz_require(bool holds, const char *format, ...)
{
    va_list args;
    if (holds)
        return;
    va_start(args, format);
    fputs("broken: ", stderr);
    vfprintf(stderr, format, args);
    fputc('\n', stderr);
    va_end(args);
    abort();
}

/* --- files -------------------------------------------------------------------------------------- */

static char *folder;

static void remove_folder(void)
{
    tl_posix_remove_tree(folder);
    free(folder);
    folder = NULL;
}

const char *tl_fuzz_folder(void)
{
    if (folder)
        return folder;
    const char *in = getenv("TMPDIR");
    struct tl_text stem = {0};
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    if (!in && tl_posix_look("/dev/shm", &kind) == TL_OK && kind == TL_POSIX_FOLDER)
        in = "/dev/shm";
    tl_text_addf(&stem, "%s/towerloop-fuzz", in ? in : "/tmp");
    folder = tl_posix_new_folder(tl_text_string(&stem));
    tl_fuzz_require(folder, "no folder %s-*: %s", tl_text_string(&stem), strerror(errno));
    tl_text_free(&stem);
    atexit(remove_folder);
    return folder;
}

const char *tl_fuzz_path(const char *name)
{
    static char path[TL_PATH_SIZE];
    tl_format(path, sizeof path, "%s/%s", tl_fuzz_folder(), name);
    return path;
}

void tl_fuzz_put(const char *name, const void *data, size_t size)
{
    FILE *f = fopen(tl_fuzz_path(name), "wb");
    tl_fuzz_require(f && fwrite(data, 1, size, f) == size && fclose(f) == 0, "%s: %s",
                    tl_fuzz_path(name), strerror(errno));
}

/* --- messages ----------------------------------------------------------------------------------- */

size_t tl_fuzz_lines(const void *data, size_t size)
{
    const char *text = data;
    size_t lines = 1;
    for (size_t i = 0; i < size; i++)
        lines += text[i] == '\n' || (text[i] == '\r' && (i + 1 == size || text[i + 1] != '\n'));
    return lines;
}

void tl_fuzz_check_messages(const struct tl_diag *d, int status, const char *file, size_t lines)
{
    size_t errors = 0;
    tl_fuzz_require(status == TL_OK || status == TL_E_INPUT, "status %d: %s", status,
                    tl_status_text(status));
    for (size_t i = 0; i < d->count; i++) {
        const struct tl_diag_message *m = &d->message[i];
        char *text = tl_diag_text(m);
        errors += m->level == TL_DIAG_ERROR;
        tl_fuzz_require(text && tl_is_plain_text(text), "message %zu is no plain text: %s", i,
                        text);
        tl_fuzz_require(m->what && *m->what, "message %zu says nothing: %s", i, text);
        tl_fuzz_require(!m->expected || *m->expected, "message %zu expects nothing: %s", i, text);
        if (m->file && strcmp(m->file, file) == 0)
            tl_fuzz_require(m->line <= lines, "message %zu, of %zu lines: %s", i, lines, text);
        free(text);
    }
    tl_fuzz_require((status == TL_OK) == (d->errors == 0), "status %d with %zu errors", status,
                    d->errors);
    tl_fuzz_require(status == TL_OK || errors > 0, "refused without a message");
}

/* --- logs --------------------------------------------------------------------------------------- */

int tl_fuzz_read_with_log(const char *keys, const void *data, size_t size, struct tl_scenario *out)
{
    static const char rest[] =
        "\nformat: 1\nstart: 2027-05-01\nlength: 30 d\n"
        "tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}\n"
        "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"
        "pump: {flow: 1200 gal/h}\n"
        "tower: {trays: 4, media depth: 3 in, plan area: 4 ft2, media: lava rock}\n"
        "source water: {alkalinity: 120 mg/L as CaCO3, pH: 7.8}\n"
        "fish: [{name: koi, count: 50, mean mass: 500 g}]\n";
    struct tl_text text = {0}, in = {0};
    struct tl_diag diag;
    tl_diag_init(&diag);
    tl_fuzz_put("log.csv", data, size);
    tl_text_addf(&text, "%s%s", keys, rest);
    tl_text_addf(&in, "%s/", tl_fuzz_folder());
    const int status =
        tl_scenario_read_text("pond.yaml", text.data, text.length, in.data, NULL, out, &diag);
    tl_fuzz_check_messages(&diag, status, tl_fuzz_path("log.csv"), tl_fuzz_lines(data, size));
    tl_diag_free(&diag);
    tl_text_free(&text);
    tl_text_free(&in);
    return status;
}

void tl_fuzz_check_table(const struct tl_table *t, const char *what)
{
    for (size_t i = 0; i < t->n; i++)
        tl_fuzz_require(isfinite(t->x[i]) && isfinite(t->y[i]) && (i == 0 || t->x[i] > t->x[i - 1]),
                        "%s: row %zu of %zu is %g, %g", what, i, t->n, t->x[i], t->y[i]);
}
