/* A file that appears under its name only when it is whole. */
#ifndef TL_ATOMIC_FILE_H
#define TL_ATOMIC_FILE_H

#include <stdio.h>

struct tl_atomic_file {
    FILE *f;       /* write here */
    char *path;    /* the name it will get */
    char *partial; /* the name it has meanwhile: "<path>.partial" */
};

/* TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY; on failure nothing is left behind. */
int tl_atomic_open(struct tl_atomic_file *a, const char *path);
/* Close and rename into place, replacing what was there. On failure the partial file is removed. */
int tl_atomic_commit(struct tl_atomic_file *a);
/* Close and remove; does nothing after a commit or a failed open. */
void tl_atomic_abort(struct tl_atomic_file *a);

#endif
