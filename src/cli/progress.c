/* Progress on stderr, with nothing but blanks and the return to the start of the line. */
#include "progress.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "posix.h"

#define SILENT_S 0.5

void tl_progress_begin(struct tl_progress *p, bool quiet)
{
    const char *terminal = getenv("TERM");
    *p = (struct tl_progress){.begin_s = tl_posix_seconds()};
    p->on = !quiet && terminal && *terminal && strcmp(terminal, "dumb") != 0 &&
            tl_posix_is_terminal(stderr);
}

void tl_progress_say(struct tl_progress *p, const char *format, ...)
{
    char text[sizeof p->text];
    va_list arguments;

    if (!p->on || tl_posix_seconds() - p->begin_s < SILENT_S)
        return;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    if (strcmp(text, p->text) == 0)
        return;
    fprintf(stderr, "\r%-*s", p->width, text);
    p->width = (int)strlen(text);
    memcpy(p->text, text, sizeof text);
}

void tl_progress_clear(struct tl_progress *p)
{
    enum { KEYS = 2 }; /* a terminal shows ^C behind the line when that is typed */
    if (p->width > 0)
        fprintf(stderr, "\r%*s\r", p->width + KEYS, "");
    p->width = 0;
    p->text[0] = '\0';
}
