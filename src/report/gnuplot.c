/* Runs gnuplot and keeps what it complains of. */
#include "gnuplot.h"

#include <string.h>

#include "posix.h"
#include "towerloop/status.h"

/* Takes in what gnuplot writes, as one line of which the end is kept. */
static void hear(void *arg, const char *bytes, size_t n)
{
    struct tl_gnuplot_result *r = arg;
    char *said = r->said;
    size_t have = strlen(said);

    for (size_t i = 0; i < n; i++) {
        char c = ' ';
        if (bytes[i] > ' ' && bytes[i] < 127)
            c = bytes[i];
        if (c == ' ' && (!have || said[have - 1] == ' '))
            continue;
        if (have + 1 == sizeof r->said) {
            have /= 2;
            memmove(said, said + sizeof r->said - 1 - have, have);
        }
        said[have++] = c;
    }
    said[have] = '\0';
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
    const char *const argument[] = {"gnuplot", "-d", script, NULL};
    /* what changes gnuplot's ways */
    static const char *const unset[] = {"LC_", "LANG", "GNUPLOT", "GNUTERM", "GNUHELP", NULL};
    const struct tl_posix_command command = {.argument = argument,
                                             .folder = folder,
                                             .unset = unset,
                                             .set = "LC_ALL=C",
                                             .time_limit_s = time_limit_s,
                                             .interrupted = interrupted,
                                             .hear = hear,
                                             .hear_arg = result};
    enum tl_posix_end end;

    *result = (struct tl_gnuplot_result){0};
    const int status = tl_posix_run(&command, &end);
    result->not_found = end == TL_POSIX_NOT_FOUND;
    result->timed_out = end == TL_POSIX_TIMED_OUT;
    result->interrupted = end == TL_POSIX_INTERRUPTED;
    keep_complaint(result->said);
    if (status)
        return status;
    return end == TL_POSIX_SUCCEEDED ? TL_OK : TL_E_CHART;
}
