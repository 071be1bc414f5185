/* Finds and reads the lessons. */
#include "shelf.h"

#include <stdlib.h>
#include <string.h>

#include "own_folder.h"
#include "place.h"
#include "posix.h"
#include "towerloop/status.h"

#define ENDING ".lesson"

static int take_file(void *arg, const char *name, enum tl_posix_kind kind)
{
    struct tl_shelf *s = arg;
    const char *end = strrchr(name, '.');
    if (kind != TL_POSIX_FILE || !end || end == name || strcmp(end, ENDING) != 0)
        return TL_OK;
    if (s->lessons == TL_SHELF_LESSONS)
        return TL_E_INPUT;
    char *path = tl_place_below(s->folder, name);
    if (!path)
        return TL_E_MEMORY;
    s->path[s->lessons++] = path;
    return TL_OK;
}

static int by_number(const void *a, const void *b)
{
    const struct tl_lesson *x = a, *y = b;
    return x->number != y->number ? (x->number > y->number ? 1 : -1) : strcmp(x->name, y->name);
}

static char *own_folder(void)
{
    char path[TL_PATH_SIZE];
    if (!tl_own_folder("share/towerloop/lessons", "lesson", "glossary.terms", path, sizeof path))
        return strdup(TL_LESSONS_INSTALL_DIR);
    return strdup(path);
}

int tl_shelf_read(const char *folder, struct tl_shelf *out, struct tl_diag *diag)
{
    *out = (struct tl_shelf){.folder = folder ? strdup(folder) : own_folder()};
    int status = out->folder ? tl_posix_list(out->folder, take_file, out) : TL_E_MEMORY;
    if (status == TL_E_INPUT)
        tl_diag_add(diag, TL_DIAG_ERROR, NULL, 0, 0, NULL, "there are too many lessons",
                    "40 at most");
    if (status != TL_OK)
        return status;
    for (size_t i = 0; i < out->lessons; i++) {
        const int one = tl_lesson_read(out->path[i], &out->lesson[i], diag);
        if (one != TL_OK)
            status = one;
    }
    if (status == TL_OK)
        qsort(out->lesson, out->lessons, sizeof *out->lesson, by_number);
    return status;
}

void tl_shelf_free(struct tl_shelf *s)
{
    for (size_t i = 0; i < s->lessons; i++) {
        tl_lesson_free(&s->lesson[i]);
        free(s->path[i]);
    }
    free(s->folder);
    *s = (struct tl_shelf){.lessons = 0};
}
