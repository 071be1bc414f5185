/* The only file that speaks POSIX, and here and there Linux. Another system needs another one of
 * this. */
#include "posix.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <locale.h>
#include <poll.h>
#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "text.h"
#include "towerloop/status.h"

extern char **environ;

/* --- files and folders -------------------------------------------------------------------------- */

static enum tl_posix_kind kind_of(mode_t mode)
{
    return S_ISREG(mode) ? TL_POSIX_FILE : S_ISDIR(mode) ? TL_POSIX_FOLDER : TL_POSIX_OTHER;
}

int tl_posix_look(const char *path, enum tl_posix_kind *kind)
{
    struct stat st;
    *kind = TL_POSIX_NOTHING;
    if (lstat(path, &st) != 0)
        return errno == ENOENT ? TL_OK : TL_E_IO;
    *kind = kind_of(st.st_mode);
    return TL_OK;
}

static FILE *open_input(const char *path, bool pipes, bool *other)
{
    struct stat st;
    *other = false;
    const int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (fd < 0)
        return NULL;
    const bool seen = fstat(fd, &st) == 0;
    *other = seen && !S_ISREG(st.st_mode) && !(pipes && S_ISFIFO(st.st_mode));
    FILE *f = seen && !*other ? fdopen(fd, "rb") : NULL;
    if (!f) {
        const int reason = errno;
        close(fd);
        errno = reason;
    }
    return f;
}

FILE *tl_posix_open_file(const char *path, bool *other)
{
    return open_input(path, false, other);
}

/* The first byte tells whether anybody writes; after that it can be waited for. */
FILE *tl_posix_open_input(const char *path, bool *other)
{
    FILE *f = open_input(path, true, other);
    const int first = f ? getc(f) : EOF;
    if (first != EOF)
        ungetc(first, f);
    if (f && !feof(f)) {
        clearerr(f);
        fcntl(fileno(f), F_SETFL, 0);
    }
    return f;
}

int tl_posix_make_folder(const char *path, bool *made)
{
    const bool new = mkdir(path, 0777) == 0;
    if (made)
        *made = new;
    return new || errno == EEXIST ? TL_OK : TL_E_IO;
}

/* mkdtemp() would give a folder that only its owner may read. */
char *tl_posix_new_folder(const char *stem)
{
    enum { TRIES = 100, RANDOM = 6 };
    static const char letters[] =
        "abcdefghijklmnopqrstuvwxyz234567"; /* 32: no letter is favoured */
    unsigned char random[RANDOM];
    char end[RANDOM + 1] = "";

    for (int i = 0; i < TRIES; i++) {
        struct tl_text path = {0};
        if (getentropy(random, sizeof random) != 0)
            return NULL;
        for (int k = 0; k < RANDOM; k++)
            end[k] = letters[random[k] % 32];
        tl_text_addf(&path, "%s-%s", stem, end);
        if (!path.failed && mkdir(path.data, 0777) == 0)
            return path.data;
        const int reason = path.failed ? ENOMEM : errno;
        tl_text_free(&path);
        errno = reason;
        if (reason != EEXIST)
            return NULL;
    }
    return NULL;
}

int tl_posix_list(const char *path,
                  int (*see)(void *arg, const char *name, enum tl_posix_kind kind), void *arg)
{
    const struct dirent *entry;
    int status = TL_OK;
    DIR *d = opendir(path);

    if (!d)
        return errno == ENOMEM ? TL_E_MEMORY : TL_E_IO;
    while (status == TL_OK && (entry = readdir(d)) != NULL) {
        struct stat st;
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        const bool seen = fstatat(dirfd(d), entry->d_name, &st, AT_SYMLINK_NOFOLLOW) == 0;
        if (!seen && errno == ENOENT)
            continue;
        status = see(arg, entry->d_name, seen ? kind_of(st.st_mode) : TL_POSIX_OTHER);
    }
    closedir(d);
    return status;
}

/* Where a path leads: of its longest beginning that is there. Caller frees; NULL: errno says why. */
static char *where(const char *path)
{
    char *begin = strdup(path), *found = NULL;
    while (begin && !found) {
        char *slash = strrchr(begin, '/');
        found = realpath(*begin ? begin : "/", NULL);
        if (found || errno != ENOENT || !slash)
            break;
        *slash = '\0';
    }
    if (begin && !found && errno == ENOENT)
        found = realpath(".", NULL);
    free(begin);
    return found;
}

static bool lies_in(const char *path, const char *folder)
{
    const size_t n = strlen(folder);
    return strncmp(path, folder, n) == 0 && (n == 1 || path[n] == '/' || path[n] == '\0');
}

bool tl_posix_overlap(const char *path, const char *other)
{
    char *a = where(path), *b = realpath(other, NULL), *whole = realpath(path, NULL);
    const bool overlap = a && b && (lies_in(a, b) || (whole && lies_in(b, whole)));
    free(a);
    free(b);
    free(whole);
    return overlap;
}

bool tl_posix_lies_in(const char *path, const char *folder)
{
    char *a = realpath(path, NULL), *b = realpath(folder, NULL);
    const bool inside = a && b && lies_in(a, b);
    free(a);
    free(b);
    return inside;
}

char *tl_posix_resolve(const char *path)
{
    return realpath(path, NULL);
}

bool tl_posix_is_another(const char *path, unsigned long long *number)
{
    struct stat st;
    const unsigned long long before = *number;
    *number = 0;
    if (lstat(path, &st) == 0) /* numbers of what is deleted are given away again */
        *number = st.st_ino + 1000000007ull * ((unsigned long long)st.st_ctim.tv_sec * 1000000000 +
                                               (unsigned long long)st.st_ctim.tv_nsec);
    return *number != before;
}

int tl_posix_exchange(const char *a, const char *b)
{
    if (renameat2(AT_FDCWD, a, AT_FDCWD, b, RENAME_EXCHANGE) == 0)
        return TL_OK;
    return errno == EINVAL || errno == ENOSYS || errno == ENOTSUP ? TL_E_REFUSED : TL_E_IO;
}

/* Whether the path leads to what is open; so, too, where that cannot be told. */
static bool still_leads_to(const char *path, int fd)
{
    struct stat there, open;
    return stat(path, &there) != 0 || fstat(fd, &open) != 0 ||
           (there.st_ino == open.st_ino && there.st_dev == open.st_dev);
}

static int keep_folder(const char *path, int how, int *kept)
{
    *kept = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (*kept < 0)
        return TL_E_IO;
    const bool locked = flock(*kept, how) == 0;
    const int reason = locked ? EWOULDBLOCK : errno;
    if (locked && still_leads_to(path, *kept))
        return TL_OK;
    (void)close(*kept);
    errno = reason;
    return reason == EWOULDBLOCK ? TL_E_REFUSED : TL_E_IO;
}

int tl_posix_keep_folder(const char *path, int *kept)
{
    return keep_folder(path, LOCK_EX | LOCK_NB, kept);
}

int tl_posix_keep_own_folder(const char *path, int *kept)
{
    return keep_folder(path, LOCK_EX, kept);
}

/* Threads get what the limit is at the start of the program, or this. */
#define THREAD_STACK ((size_t)1 << 20)
#define USUAL_STACK  ((rlim_t)8 << 20) /* for gnuplot as well */

bool tl_posix_stack(size_t least, size_t *allowed)
{
    struct rlimit limit;
    pthread_attr_t attr;
    size_t thread;
    *allowed = least;
    if (getrlimit(RLIMIT_STACK, &limit) != 0 || limit.rlim_cur >= least)
        return true;
    if (pthread_getattr_default_np(&attr) == 0) {
        if (pthread_attr_getstacksize(&attr, &thread) == 0 && thread < THREAD_STACK &&
            pthread_attr_setstacksize(&attr, THREAD_STACK) == 0)
            (void)pthread_setattr_default_np(&attr);
        pthread_attr_destroy(&attr);
    }
    limit.rlim_cur = limit.rlim_max < USUAL_STACK ? limit.rlim_max : USUAL_STACK;
    (void)setrlimit(RLIMIT_STACK, &limit);
    *allowed = (size_t)limit.rlim_cur;
    return *allowed >= least;
}

void tl_posix_unset(const char *name)
{
    (void)unsetenv(name);
}

void tl_posix_nap(int ms)
{
    (void)poll(NULL, 0, ms);
}

void tl_posix_let_go(int kept)
{
    (void)close(kept);
}

bool tl_posix_remove_empty(const char *path)
{
    return rmdir(path) == 0;
}

static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *at)
{
    (void)st;
    (void)kind;
    (void)at;
    remove(path);
    return 0;
}

bool tl_posix_remove_tree(const char *path)
{
    struct stat st;
    if (nftw(path, remove_one, 16, FTW_DEPTH | FTW_PHYS) != 0) /* once more, if memory was short */
        nftw(path, remove_one, 16, FTW_DEPTH | FTW_PHYS);
    return lstat(path, &st) != 0 && errno == ENOENT;
}

/* --- the process -------------------------------------------------------------------------------- */

bool tl_posix_program(char *path, size_t size)
{
    const ssize_t length = readlink("/proc/self/exe", path, size - 1);
    path[length > 0 ? length : 0] = '\0';
    return length > 0 && (size_t)length < size - 1; /* else it may be cut */
}

bool tl_posix_is_terminal(FILE *f)
{
    return isatty(fileno(f)) != 0;
}

bool tl_posix_wait_line(FILE *f, const volatile int *interrupted)
{
    enum { LOOK_MS = 100 }; /* a signal just before poll() would go unnoticed otherwise */
    struct pollfd p = {.fd = fileno(f), .events = POLLIN};
    while (!*interrupted)
        if (poll(&p, 1, LOOK_MS) > 0)
            return true;
    return false;
}

double tl_posix_seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Those this process may use, which can be fewer than the machine has. */
unsigned tl_posix_processors(void)
{
    cpu_set_t set;
    long n = sysconf(_SC_NPROCESSORS_ONLN);
    if (sched_getaffinity(0, sizeof set, &set) == 0)
        n = CPU_COUNT(&set);
    return n > 1 ? (unsigned)n : 1;
}

void tl_posix_hold_streams(void)
{
    for (int fd = 0; fd <= 2; fd++)
        if (fcntl(fd, F_GETFD) < 0 && errno == EBADF)
            (void)open("/dev/null",
                       fd == 0 ? O_WRONLY : O_RDONLY); /* takes the lowest that is free */
}

void tl_posix_watch(void (*stop)(int signal_number))
{
    struct sigaction action = {.sa_handler = stop};
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    action.sa_handler = SIG_IGN;
    sigaction(SIGPIPE, &action, NULL);
    sigaction(SIGXFSZ, &action, NULL);
}

/* --- other programs ----------------------------------------------------------------------------- */

/* The environment of the command; the strings stay whose they are. */
static char **environment_of(const struct tl_posix_command *c, char *set)
{
    size_t n = 0, kept = 0;

    while (environ && environ[n])
        n++;
    char **out = malloc((n + 2) * sizeof *out);
    if (!out)
        return NULL;
    for (size_t i = 0; i < n; i++) {
        bool drop = false;
        for (const char *const *u = c->unset; *u; u++)
            drop = drop || strncmp(environ[i], *u, strlen(*u)) == 0;
        if (!drop)
            out[kept++] = environ[i];
    }
    out[kept++] = set;
    out[kept] = NULL;
    return out;
}

static void strings_free(char **s)
{
    for (size_t i = 0; s && s[i]; i++)
        free(s[i]);
    free(s);
}

/* posix_spawn() wants strings it might change. */
static char **strings_copy(const char *const *s)
{
    size_t n = 0;
    while (s[n])
        n++;
    char **out = calloc(n + 1, sizeof *out);
    for (size_t i = 0; out && i < n; i++) {
        out[i] = strdup(s[i]);
        if (!out[i]) {
            strings_free(out);
            return NULL;
        }
    }
    return out;
}

/* 0 or an errno. */
static int start(const struct tl_posix_command *c, int pipe_end, pid_t *child)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attr;
    sigset_t none, usual;
    char **argument = strings_copy(c->argument), *set = strdup(c->set);
    char **env = set ? environment_of(c, set) : NULL;
    int rc = ENOMEM;

    if (!argument || !*argument || !env)
        goto no_files;
    sigemptyset(&none);
    sigemptyset(&usual);
    sigaddset(&usual, SIGINT);
    sigaddset(&usual, SIGTERM);
    sigaddset(&usual, SIGPIPE);
    sigaddset(&usual, SIGXFSZ);
    if ((rc = posix_spawn_file_actions_init(&files)))
        goto no_files;
    if ((rc = posix_spawnattr_init(&attr)))
        goto no_attr;
    /* a group of its own, so that whatever it starts can be killed with it */
    if ((rc = posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK |
                                                  POSIX_SPAWN_SETSIGDEF)) ||
        (rc = posix_spawnattr_setpgroup(&attr, 0)) ||
        (rc = posix_spawnattr_setsigmask(&attr, &none)) ||
        (rc = posix_spawnattr_setsigdefault(&attr, &usual)) ||
        (rc = posix_spawn_file_actions_addchdir_np(&files, c->folder)) ||
        (rc = posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0)) ||
        (rc = posix_spawn_file_actions_addopen(&files, c->output ? 2 : 1, "/dev/null", O_WRONLY,
                                               0)) ||
        (rc = posix_spawn_file_actions_adddup2(&files, pipe_end, c->output ? 1 : 2)))
        goto done;
    rc = posix_spawnp(child, argument[0], &files, &attr, argument, env);
done:
    posix_spawnattr_destroy(&attr);
no_attr:
    posix_spawn_file_actions_destroy(&files);
no_files:
    free(env);
    free(set);
    strings_free(argument);
    return rc;
}

/* Hands on what has arrived; false at the end of the pipe. */
static bool listen_to(const struct tl_posix_command *c, int fd)
{
    char buffer[1024];
    const ssize_t got = read(fd, buffer, sizeof buffer);
    if (got < 0)
        return errno == EAGAIN || errno == EINTR;
    if (got > 0)
        c->hear(c->hear_arg, buffer, (size_t)got);
    return got > 0;
}

static bool has_something(int fd, int wait_ms)
{
    struct pollfd p = {.fd = fd, .events = POLLIN};
    return poll(&p, 1, wait_ms) > 0;
}

/* Waits for the end while listening, and kills when it is time to. */
static int attend(const struct tl_posix_command *c, pid_t child, int fd, enum tl_posix_end *end)
{
    const double deadline = tl_posix_seconds() + c->time_limit_s;
    bool open = true, killed = false;
    int state = 0;
    pid_t gone;

    while (!(gone = waitpid(child, &state, WNOHANG))) {
        if (has_something(open ? fd : -1, 10))
            open = listen_to(c, fd);
        if (c->interrupted && *c->interrupted)
            *end = TL_POSIX_INTERRUPTED;
        else if (tl_posix_seconds() > deadline)
            *end = TL_POSIX_TIMED_OUT;
        else
            continue;
        killed = true;
        kill(-child, SIGKILL);
        while ((gone = waitpid(child, &state, 0)) < 0 && errno == EINTR)
            ;
        break;
    }
    if (!killed) {
        while (open && has_something(fd, 0))
            open = listen_to(c, fd);
        *end = WIFEXITED(state) && WEXITSTATUS(state) == 0 ? TL_POSIX_SUCCEEDED : TL_POSIX_FAILED;
    }
    return gone == child ? TL_OK : TL_E_IO;
}

int tl_posix_run(const struct tl_posix_command *c, enum tl_posix_end *end)
{
    int ends[2], status;
    pid_t child = 0;

    *end = TL_POSIX_FAILED;
    if (pipe2(ends, O_CLOEXEC))
        return TL_E_IO;
    fcntl(ends[0], F_SETFL, O_NONBLOCK);
    const int rc = start(c, ends[1], &child);
    close(ends[1]);
    if (!rc)
        status = attend(c, child, ends[0], end);
    else if (rc == ENOENT || rc == EACCES || rc == ENOTDIR || rc == ENOEXEC) {
        *end = TL_POSIX_NOT_FOUND;
        status = TL_OK;
    } else
        status = rc == ENOMEM ? TL_E_MEMORY : TL_E_IO;
    close(ends[0]);
    if (rc)
        errno = rc;
    return status;
}

/* --- the locale --------------------------------------------------------------------------------- */

bool tl_posix_plain_begin(struct tl_posix_locale *l)
{
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (!plain)
        return false;
    l->plain = plain;
    l->before = uselocale(plain);
    return true;
}

void tl_posix_plain_end(const struct tl_posix_locale *l)
{
    uselocale(l->before);
    freelocale(l->plain);
}
