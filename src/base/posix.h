/* All the program needs of the operating system beyond ISO C: folders, the terminal, other programs,
 * signals, the locale of a thread. Where a function fails with TL_E_IO, errno says why. */
#ifndef TL_BASE_POSIX_H
#define TL_BASE_POSIX_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* The longest path that is handled in a buffer of fixed size, with its NUL. */
enum { TL_PATH_SIZE = 4096 };

/* --- files and folders -------------------------------------------------------------------------- */

enum tl_posix_kind { TL_POSIX_NOTHING, TL_POSIX_FILE, TL_POSIX_FOLDER, TL_POSIX_OTHER };

/* What lies at `path`; a symbolic link is TL_POSIX_OTHER. TL_OK or TL_E_IO. */
int tl_posix_look(const char *path, enum tl_posix_kind *kind);

/* Opens a file for reading, links followed. NULL when that fails: errno says why, or *other that it is
 * something else, a folder, a pipe or a device. Never waits for one to write. */
FILE *tl_posix_open_file(const char *path, bool *other);
/* The same, or a pipe: one that somebody writes to is waited for, one that nobody does is empty. */
FILE *tl_posix_open_input(const char *path, bool *other);

/* Makes a folder, or finds something there already. `made` (may be NULL) says which. TL_OK, TL_E_IO. */
int tl_posix_make_folder(const char *path, bool *made);

/* Makes a new folder "<stem>-xxxxxx" that nobody else has; the caller frees its name. NULL: errno. */
char *tl_posix_new_folder(const char *stem);

/* Calls `see` for everything in a folder, but not in those below it, until it returns other than 0,
 * which is returned then. What cannot be looked at is TL_POSIX_OTHER, what has gone meanwhile is left out. Otherwise TL_OK, TL_E_IO or
 * TL_E_MEMORY. */
int tl_posix_list(const char *path,
                  int (*see)(void *arg, const char *name, enum tl_posix_kind kind), void *arg);

/* Whether one of two places is the other or lies in it, links followed. The first need not be there yet. False,
 * too, when that cannot be told. */
bool tl_posix_overlap(const char *path, const char *other);

/* Whether what is at `path` is the folder, or lies in it, links followed. False, too, when that cannot be told. */
bool tl_posix_lies_in(const char *path, const char *folder);

/* Where a path leads that is there, without links and dots. Caller frees; NULL: errno says why. */
char *tl_posix_resolve(const char *path);

/* Whether `number` is no longer that of what lies at the path, as another took its place or its entries changed; it
 * becomes that. */
bool tl_posix_is_another(const char *path, unsigned long long *number);

/* Lets two folders change places at once, so that each name always has one of them. TL_OK; TL_E_REFUSED: the system or
 * the disk cannot do that; TL_E_IO. */
int tl_posix_exchange(const char *a, const char *b);

/* Keeps a folder for this process, until it is let go or the process has ended, however that came. TL_OK; TL_E_REFUSED:
 * another process keeps it; TL_E_IO: it cannot be kept, as there is none or its disk knows no locks. */
int tl_posix_keep_folder(const char *path, int *kept);
/* The same of one that this process has made and that others keep for a moment, to see whether it is kept: waits. */
int tl_posix_keep_own_folder(const char *path, int *kept);
void tl_posix_let_go(int kept);
/* Lets others go on for so many milliseconds. */
void tl_posix_nap(int ms);

/* Removes a folder if it is empty; never a file. */
bool tl_posix_remove_empty(const char *path);

/* Removes a folder with all it holds, as far as that is possible; links are removed, not followed. Whether
 * nothing is left of it. */
bool tl_posix_remove_tree(const char *path);

/* --- the process -------------------------------------------------------------------------------- */

/* The file of the running program, links resolved; false when that cannot be told. */
bool tl_posix_program(char *path, size_t size);

/* Whether text written to `f` is read by somebody on a terminal. */
bool tl_posix_is_terminal(FILE *f);

/* Waits until somebody has typed a line on the terminal `f`, or has gone; false once *interrupted. */
bool tl_posix_wait_line(FILE *f, const volatile int *interrupted);

/* Seconds of a clock that never jumps, from an instant of its own. */
double tl_posix_seconds(void);

/* How many threads of this process can run at once; at least 1. */
unsigned tl_posix_processors(void);

/* Sees to it that this process may use so many bytes of stack, and that threads get enough of their own. False: the
 * system does not let it; *allowed says how much there is. */
bool tl_posix_stack(size_t least, size_t *allowed);

/* Takes a variable out of the environment. */
void tl_posix_unset(const char *name);

/* Puts something that can be neither read nor written in the place of standard streams that are closed, so
 * that no file which is opened later takes what is meant for them. */
void tl_posix_hold_streams(void);

/* Has `stop` called when the user or the system asks the program to end, and lets writing to a reader
 * that has gone, or beyond the size that files may have, fail instead of ending the program. */
void tl_posix_watch(void (*stop)(int signal_number));

/* --- other programs ----------------------------------------------------------------------------- */

struct tl_posix_command {
    const char *const *argument; /* closed by NULL; the first is looked for on the PATH */
    const char *folder;          /* it works there */
    const char *const *unset;    /* environment: what begins so is taken out; closed by NULL */
    const char *set;             /* and this, "NAME=value", is put in */
    double time_limit_s;
    const volatile int *interrupted;                      /* may be NULL */
    bool output;                                          /* stdout is heard, not stderr */
    void (*hear)(void *arg, const char *bytes, size_t n); /* what it writes there */
    void *hear_arg;
};

enum tl_posix_end {
    TL_POSIX_SUCCEEDED,
    TL_POSIX_FAILED,
    TL_POSIX_NOT_FOUND,   /* no such program */
    TL_POSIX_TIMED_OUT,   /* killed after the time limit */
    TL_POSIX_INTERRUPTED, /* killed because *interrupted was set */
};

/* Runs a program without a shell, with nothing to read, what is not heard thrown away, and waits for
 * its end. When it has to be killed, so is all that it started. TL_OK with how it ended in *end; TL_E_IO or
 * TL_E_MEMORY when it could not be started or waited for. */
int tl_posix_run(const struct tl_posix_command *c, enum tl_posix_end *end);

/* --- the locale --------------------------------------------------------------------------------- */

/* Between begin and end the calling thread, and no other, has decimal points and plain letters. */
struct tl_posix_locale {
    void *plain, *before;
};
/* False when out of memory: nothing has changed then and there is nothing to end. */
bool tl_posix_plain_begin(struct tl_posix_locale *l);
void tl_posix_plain_end(const struct tl_posix_locale *l);

#endif
