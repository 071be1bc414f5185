/* Messages for people, on stderr. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli.h"

void tl_complain(const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    fputs("towerloop: ", stderr);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
}

void tl_complain_diag(const struct tl_diag *d, bool warnings)
{
    for (size_t i = 0; i < d->count; i++) {
        if (d->message[i].level == TL_DIAG_WARNING && !warnings)
            continue;
        char *text = tl_diag_text(&d->message[i]);
        if (text)
            fprintf(stderr, "%s\n", text);
        free(text);
    }
    if (d->errors > 0 && d->count == 0)
        tl_complain("out of memory");
}
