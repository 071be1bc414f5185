/* Messages for people, on stderr. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "cli.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

/* Without asking for memory; a line that is longer by far than any screen is cut. */
static void tell(const char *begin, const char *format, va_list arguments)
    __attribute__((format(printf, 2, 0)));
static void tell(const char *begin, const char *format, va_list arguments)
{
    char line[2 * TL_PATH_SIZE], shown[2 * sizeof line];
    struct tl_text t = tl_text_over(shown, sizeof shown);
    vsnprintf(line, sizeof line, format, arguments);
    tl_text_add_visible(&t, line);
    fprintf(stderr, "%s%s\n", begin, tl_text_string(&t));
}

void tl_complain(const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    tell("towerloop: ", format, arguments);
    va_end(arguments);
}

void tl_tell(const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    tell("", format, arguments);
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
        else
            tl_answer_lost();
        free(text);
    }
    if (d->lost)
        tl_answer_lost();
}

int tl_complain_memory(int status)
{
    if (status == TL_E_MEMORY)
        tl_complain("%s", tl_status_text(status));
    return status;
}

const char *tl_cli_cause(int status, int reason)
{
    return status != TL_E_MEMORY && reason ? strerror(reason) : tl_status_text(status);
}

int tl_exit_for(int status)
{
    return status == TL_E_INTERRUPTED ? TL_EXIT_INTERRUPTED
           : status == TL_E_INPUT     ? TL_EXIT_USAGE
                                      : TL_EXIT_FAILED;
}

int tl_cli_read_scenario(const char *file, const struct tl_options *o, struct tl_scenario *out,
                         struct tl_diag *diag)
{
    return tl_cli_read_given(file, o, NULL, out, diag);
}

int tl_cli_read_given(const char *file, const struct tl_options *o, bool *given,
                      struct tl_scenario *out, struct tl_diag *diag)
{
    const struct tl_scenario_options options = {.set = o->set, .sets = o->sets};
    int status = tl_scenario_read_given(file, &options, given, out, diag);
    tl_complain_diag(diag, !o->quiet);
    if (status == TL_E_MEMORY || (status != TL_OK && diag->errors == 0))
        tl_complain("%s: %s", file, tl_status_text(status));
    return status == TL_E_IO ? TL_E_INPUT : status;
}

/* The key of a message, without the variant that stands before it. */
static const char *bare_key(const char *key)
{
    static const char end_of_name[] = "\": ";
    for (const char *next; key && (next = strstr(key, end_of_name));)
        key = next + sizeof end_of_name - 1;
    return key ? key : "";
}

/* Several variants can have the same fault. */
static bool is_known(const struct tl_diag *d, const struct tl_diag_message *m)
{
    for (size_t i = 0; i < d->count; i++) {
        const struct tl_diag_message *other = &d->message[i];
        if (other->line == m->line && other->what && m->what && strcmp(other->what, m->what) == 0 &&
            strcmp(bare_key(other->key), bare_key(m->key)) == 0)
            return true;
    }
    return false;
}

int tl_cli_read_variant(const char *file, const struct tl_scenario_options *options,
                        const struct tl_variant *v, bool warnings, struct tl_scenario *out,
                        struct tl_diag *diag)
{
    struct tl_diag own, fresh;
    tl_diag_init(&own);
    tl_diag_init(&fresh);
    int status = tl_scenario_read_variant(file, options, v, out, &own);
    for (size_t i = 0; i < own.count; i++) {
        const struct tl_diag_message *m = &own.message[i];
        if (is_known(diag, m))
            continue;
        tl_diag_add(&fresh, m->level, m->file, m->line, m->column, m->key, m->what, m->expected);
        tl_diag_add(diag, m->level, m->file, m->line, m->column, m->key, m->what, m->expected);
    }
    tl_complain_diag(&fresh, warnings);
    if (status == TL_E_MEMORY || (status != TL_OK && own.errors == 0))
        tl_complain("%s: %s", file, tl_status_text(status));
    tl_diag_free(&own);
    tl_diag_free(&fresh);
    return status == TL_E_IO ? TL_E_INPUT : status;
}

int tl_complain_charts(int status, const struct tl_chart_outcome *c)
{
    if (*c->left)
        tl_complain("a folder of the drawing could not be deleted; it lies beside the charts: %s",
                    c->left);
    switch (c->lacks) {
    case TL_CHART_LACKS_GNUPLOT:
        tl_complain("no charts: gnuplot is missing; to get them, install it "
                    "(Debian: apt install gnuplot-nox)");
        return TL_OK;
    case TL_CHART_LACKS_FONT:
        tl_complain("no PNG charts: no font was found; to get them, install one "
                    "(Debian: apt install fonts-dejavu-core)");
        return TL_OK;
    case TL_CHART_LACKS_NOTHING:
        break;
    }
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the charts could not be drawn: %s",
                    c->fault[0] ? c->fault : tl_status_text(status));
    else if (c->unshown[0])
        tl_complain(
            "no font on this computer has %s: in PNG and PDF charts \"?\" stands for each, SVG "
            "charts keep them; to have them in all, install a font for that script",
            c->unshown);
    return status;
}
