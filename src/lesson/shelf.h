/* The lessons that belong to the running program. */
#ifndef TL_LESSON_SHELF_H
#define TL_LESSON_SHELF_H

#include "lesson.h"

enum { TL_SHELF_LESSONS = 40 };

struct tl_shelf {
    char *folder;
    char *path[TL_SHELF_LESSONS];              /* of each file; messages name it */
    struct tl_lesson lesson[TL_SHELF_LESSONS]; /* by their number */
    size_t lessons;
};

/* Reads all lessons of `folder` (NULL: those of the program's own installation or build). TL_OK; TL_E_INPUT
 * with messages in `diag`; TL_E_IO when the folder cannot be read (errno says why); TL_E_MEMORY. Free in any
 * case. */
int tl_shelf_read(const char *folder, struct tl_shelf *out, struct tl_diag *diag);
void tl_shelf_free(struct tl_shelf *s);

#endif
