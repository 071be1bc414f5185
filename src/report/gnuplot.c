/* Runs gnuplot: without a shell, in a folder of its own, for a limited time. */
#include "gnuplot.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "towerloop/status.h"

extern char **environ;

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* The environment without what changes gnuplot's ways, and with `c_locale`. */
static char **plain_environment(char *c_locale)
{
    static const char *const dropped[] = {"LC_", "LANG", "GNUPLOT", "GNUTERM", "GNUHELP"};
    size_t n = 0, kept = 0;

    while (environ && environ[n])
        n++;
    char **out = malloc((n + 2) * sizeof *out);
    if (!out)
        return NULL;
    for (size_t i = 0; i < n; i++) {
        bool drop = false;
        for (size_t k = 0; k < sizeof dropped / sizeof *dropped; k++)
            drop = drop || !strncmp(environ[i], dropped[k], strlen(dropped[k]));
        if (!drop)
            out[kept++] = environ[i];
    }
    out[kept++] = c_locale;
    out[kept] = NULL;
    return out;
}

static int start(const char *folder, const char *script, int err, pid_t *child)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attr;
    sigset_t none, usual;
    char *copy = strdup(script), name[] = "gnuplot", no_startup[] = "-d", c_locale[] = "LC_ALL=C";
    char **env = plain_environment(c_locale);
    char *argv[] = {name, no_startup, copy, NULL};
    int rc = ENOMEM;

    if (!env || !copy)
        goto no_spawn;
    sigemptyset(&none);
    sigemptyset(&usual);
    sigaddset(&usual, SIGINT);
    sigaddset(&usual, SIGTERM);
    sigaddset(&usual, SIGPIPE);
    if ((rc = posix_spawn_file_actions_init(&files)))
        goto no_spawn;
    if ((rc = posix_spawnattr_init(&attr)))
        goto no_attr;
    /* a group of its own, so that whatever it starts can be killed with it */
    if ((rc = posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK |
                                                  POSIX_SPAWN_SETSIGDEF)) ||
        (rc = posix_spawnattr_setpgroup(&attr, 0)) ||
        (rc = posix_spawnattr_setsigmask(&attr, &none)) ||
        (rc = posix_spawnattr_setsigdefault(&attr, &usual)) ||
        (rc = posix_spawn_file_actions_addchdir_np(&files, folder)) ||
        (rc = posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0)) ||
        (rc = posix_spawn_file_actions_addopen(&files, 1, "/dev/null", O_WRONLY, 0)) ||
        (rc = posix_spawn_file_actions_adddup2(&files, err, 2)))
        goto done;
    rc = posix_spawnp(child, name, &files, &attr, argv, env);
done:
    posix_spawnattr_destroy(&attr);
no_attr:
    posix_spawn_file_actions_destroy(&files);
no_spawn:
    free(env);
    free(copy);
    return rc;
}

/* Reads what has arrived, as one line of which the end is kept; false at the end of the pipe. */
static bool listen_to(int fd, char *said, size_t size)
{
    char buffer[1024];
    size_t have = strlen(said);
    ssize_t got = read(fd, buffer, sizeof buffer);

    if (got < 0)
        return errno == EAGAIN || errno == EINTR;
    for (ssize_t i = 0; i < got; i++) {
        char c = ' ';
        if (buffer[i] > ' ' && buffer[i] < 127)
            c = buffer[i];
        if (c == ' ' && (!have || said[have - 1] == ' '))
            continue;
        if (have + 1 == size) {
            have /= 2;
            memmove(said, said + size - 1 - have, have);
        }
        said[have++] = c;
    }
    said[have] = '\0';
    return got > 0;
}

/* gnuplot repeats the line at fault and warns of other things; `"x.gp" line 3: …` says it all. */
static void keep_complaint(char *said)
{
    char *found = NULL;

    for (char *p = said; (p = strstr(p, ".gp\" line ")); p++)
        found = p;
    while (found && found > said && *found != '"')
        found--;
    if (found)
        memmove(said, found, strlen(found) + 1);
}

int tl_gnuplot_run(const char *folder, const char *script, double time_limit_s,
                   const volatile int *interrupted, struct tl_gnuplot_result *result)
{
    int ends[2], state = 0, rc;
    pid_t child = 0, gone = 0;
    bool open = true;
    double deadline = seconds_now() + time_limit_s;

    *result = (struct tl_gnuplot_result){0};
    if (pipe2(ends, O_CLOEXEC))
        return TL_E_IO;
    fcntl(ends[0], F_SETFL, O_NONBLOCK);
    rc = start(folder, script, ends[1], &child);
    close(ends[1]);
    if (rc) {
        close(ends[0]);
        result->not_found = rc == ENOENT || rc == EACCES || rc == ENOTDIR || rc == ENOEXEC;
        return result->not_found ? TL_E_CHART : rc == ENOMEM ? TL_E_MEMORY : TL_E_IO;
    }
    while (!(gone = waitpid(child, &state, WNOHANG))) {
        struct pollfd p = {.fd = open ? ends[0] : -1, .events = POLLIN};
        if (poll(&p, 1, 10) > 0)
            open = listen_to(ends[0], result->said, sizeof result->said);
        result->timed_out = seconds_now() > deadline;
        result->interrupted = interrupted && *interrupted;
        if (result->timed_out || result->interrupted) {
            kill(-child, SIGKILL);
            while ((gone = waitpid(child, &state, 0)) < 0 && errno == EINTR)
                ;
            break;
        }
    }
    if (!result->timed_out && !result->interrupted)
        while (open && listen_to(ends[0], result->said, sizeof result->said)) {
            struct pollfd p = {.fd = ends[0], .events = POLLIN};
            if (poll(&p, 1, 0) <= 0)
                break;
        }
    close(ends[0]);
    keep_complaint(result->said);
    if (gone != child)
        return TL_E_IO;
    return !result->timed_out && !result->interrupted && WIFEXITED(state) && !WEXITSTATUS(state)
               ? TL_OK
               : TL_E_CHART;
}
