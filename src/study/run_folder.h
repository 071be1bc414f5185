/* The folder of a run: written under a temporary name beside its place, moved there when whole. */
#ifndef TL_RUN_FOLDER_H
#define TL_RUN_FOLDER_H

#include <stdbool.h>
#include <stddef.h>

struct tl_run_folder {
    char *place;               /* where the results will be */
    char *draft;               /* where they are written meanwhile */
    int parents_made;          /* folders above that had to be made */
    int lock;                  /* says that a process is at work in the draft */
    bool locked;               /* not every disk knows locks */
    const char *const *charts; /* names that pictures in charts/ may have, closed by NULL */
};

/* Whether `name` is that of a picture of one of `charts` (closed by NULL; NULL: none). */
bool tl_is_picture(const char *name, const char *const *charts);

/* Look whether results may be put at `place` (nothing there, an empty folder, or, with `force`, a
 * folder of earlier results that holds nothing else, but never the one the program works in), and make the draft. `charts` must outlive it
 * and may be NULL. TL_OK; TL_E_REFUSED or
 * TL_E_IO with a message in `why` (`size` bytes); TL_E_MEMORY. */
int tl_run_folder_begin(struct tl_run_folder *f, const char *place, const char *const *charts,
                        bool force, char *why, size_t size);
/* Path of a file in the draft; caller frees; NULL when out of memory. */
char *tl_run_folder_path(const struct tl_run_folder *f, const char *name);
/* Make a sub-folder of the draft. TL_OK, TL_E_IO or TL_E_MEMORY. */
int tl_run_folder_sub(const struct tl_run_folder *f, const char *name);
/* Check once more, let the draft and what stands at the place change places, and delete the old one. Where that
 * cannot be deleted `why` says so, and all else is well. */
int tl_run_folder_commit(struct tl_run_folder *f, bool force, char *why, size_t size);
/* Whether the folder of an earlier run is at `place`. False with ENOMEM in errno: out of memory. */
bool tl_run_folder_is_ours(const char *place);
/* Whether there is one, nothing else lies in it, and its scenario is as it was written: TL_OK; TL_E_REFUSED or TL_E_IO with a message in
 * `why`; TL_E_MEMORY. `charts` as above. */
int tl_run_folder_check(const char *place, const char *const *charts, char *why, size_t size);
/* Delete the draft, if it is still there, and free what the struct holds. */
void tl_run_folder_end(struct tl_run_folder *f);

#endif
