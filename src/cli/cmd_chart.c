/* towerloop chart DIR: draw the charts of a run again, in other formats or units. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "place.h"
#include "posix.h"
#include "run_charts.h"
#include "run_folder.h"
#include "run_result.h"
#include "run_series.h"
#include "spread_drawing.h"
#include "study_folder.h"
#include "text.h"
#include "towerloop/status.h"

enum { KIND_SIZE = 80 };

static const struct {
    unsigned bit;
    const char *ending;
} format_table[] = {{TL_CHART_PNG, "png"}, {TL_CHART_SVG, "svg"}, {TL_CHART_PDF, "pdf"}};
enum { FORMATS = sizeof format_table / sizeof *format_table };

static char *path_of(const char *folder, const char *name)
{
    struct tl_text path = {0};
    tl_text_addf(&path, "%s/%s", folder, name);
    if (path.failed)
        tl_text_free(&path);
    return path.data;
}

/* Pictures are drawn into a folder, never through a link to one. Those of other places than the results' own are only
 * replaced when asked to: the first that is in the way. */
static int check_place(const char *place, const char *const *charts, unsigned formats,
                       const struct tl_options *o)
{
    const bool own = !o->out, force = own || o->force;
    char why[TL_PATH_SIZE] = "";
    bool vacant;
    int status = tl_place_look(place, &vacant, why, sizeof why);
    if (*why)
        tl_complain("%s", why);
    for (; *charts && status == TL_OK; charts++) {
        for (int f = 0; f < FORMATS && status == TL_OK; f++) {
            struct tl_text path = {0};
            if (!(formats & format_table[f].bit))
                continue;
            *why = '\0';
            tl_text_addf(&path, "%s/%s.%s", place, *charts, format_table[f].ending);
            status =
                path.failed ? TL_E_MEMORY : tl_place_file(path.data, force, own, why, sizeof why);
            tl_text_free(&path);
            if (*why)
                tl_complain("%s", why);
        }
    }
    return status;
}

/* The day that is asked for must be a full one of the run. */
static int check_day(const struct tl_options *o, const struct tl_scenario *s)
{
    const long first = (long)ceil(s->setup.start_d - 1e-6);
    const long last = (long)floor(s->setup.start_d + s->setup.length_d + 1e-6) - 1;
    if (!o->day_given || (o->day >= first && o->day <= last))
        return TL_OK;
    if (last < first)
        tl_complain("--day: this run has no full day");
    else
        tl_complain("--day: '%ld' is no full day of this run; expected %ld to %ld", o->day, first,
                    last);
    return TL_E_INPUT;
}

/* Draws into `place`, which is made if need be and does not stay empty. */
static int draw_into(char *place, const struct tl_options *o, unsigned formats,
                     const struct tl_scenario *scenario, const char *series)
{
    struct tl_chart_outcome outcome = {.lacks = TL_CHART_LACKS_NOTHING};
    struct tl_run_result result; /* of another version it cannot be told */
    int made = 0;
    int status = tl_run_result_load(o->word[0], &result);
    const bool known = status == TL_OK;
    if (status == TL_E_IO) {
        tl_complain("%s/summary.json cannot be read: %s", o->word[0], strerror(errno));
        return status;
    }
    if (status != TL_E_MEMORY)
        status = tl_place_parents(place, &made);

    if (status == TL_E_IO)
        tl_complain("%s cannot be made: %s", place, strerror(errno));
    if (status != TL_OK)
        goto done;
    const struct tl_run_charts wanted = {.scenario = scenario,
                                         .series_csv = series,
                                         .folder = place,
                                         .units = o->units,
                                         .formats = formats,
                                         .result = known ? &result : NULL,
                                         .day_given = o->day_given,
                                         .day = o->day,
                                         .interrupted = &tl_interrupted};
    status = tl_run_charts(&wanted, &outcome);
    tl_posix_remove_empty(place);
    (void)tl_complain_charts(status, &outcome); /* nothing else was asked for, so it is a failure */
    if (status == TL_OK && !o->quiet)
        tl_tell("Charts: %s", place);
done:
    if (status != TL_OK)
        tl_place_no_parents(place, made);
    return status;
}

/* The folder of a spread is known by its spread.json. */
static bool is_spread(const char *folder)
{
    char *path = path_of(folder, "spread.json");
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    const bool there = path && tl_posix_look(path, &kind) == TL_OK && kind == TL_POSIX_FILE;
    free(path);
    return there;
}

static int draw_spread(const struct tl_options *o, unsigned formats, char *place)
{
    int made = 0;
    if (o->day_given) {
        tl_complain("--day: a spread has no chart of a day; expected the folder of a run with it");
        return TL_E_INPUT;
    }
    int status = check_place(place, tl_spread_charts, formats, o);
    if (status == TL_OK && (status = tl_place_parents(place, &made)) == TL_OK)
        status = tl_posix_make_folder(place, NULL);
    if (status == TL_E_IO)
        tl_complain("%s cannot be made: %s", place, strerror(errno));
    if (status == TL_OK) {
        status = tl_spread_draw_again(o->word[0], o->units, formats, place);
        tl_posix_remove_empty(place);
    }
    if (status == TL_OK && !o->quiet)
        fprintf(stderr, "Charts: %s\n", place);
    if (status != TL_OK)
        tl_place_no_parents(place, made);
    return status;
}

static int no_results(const char *folder)
{
    char kind[KIND_SIZE];
    if (tl_study_kind(folder, kind, sizeof kind) != TL_OK)
        return TL_E_MEMORY;
    if (*kind)
        tl_complain("%s holds the results of %s, whose charts only %s itself draws; expected the "
                    "folder of a run or a spread",
                    folder, kind, kind);
    else
        tl_complain("%s holds no results of towerloop; expected the folder of a run or a spread",
                    *folder ? folder : "''");
    return TL_E_INPUT;
}

/* What cannot be read at all is told of where it is drawn. */
static int check_series(const char *folder)
{
    char why[TL_PATH_SIZE] = "";
    const int status = tl_run_series_check(folder, &tl_interrupted, why, sizeof why);
    if (status == TL_E_INPUT)
        tl_complain("%s", why);
    return status == TL_E_IO ? TL_OK : status;
}

static int draw(const struct tl_options *o, struct tl_diag *diag)
{
    const char *folder = o->word[0];
    const unsigned formats = o->formats ? o->formats : TL_CHART_PNG | TL_CHART_SVG;
    const char *charts[TL_NCHART + 1] = {NULL};
    struct tl_scenario scenario = {0};
    for (int c = 0; c < TL_NCHART; c++)
        charts[c] = tl_chart_name((enum tl_chart_id)c);
    char *written = path_of(folder, "scenario.yaml");
    char *series = path_of(folder, "series.csv");
    char *place = o->out ? strdup(o->out) : path_of(folder, "charts");
    int status = TL_E_MEMORY;

    if (!written || !series || !place)
        goto done;
    for (size_t n = strlen(place); n > 1 && place[n - 1] == '/'; n--)
        place[n - 1] = '\0';
    errno = 0;
    if (is_spread(folder)) {
        status = draw_spread(o, formats, place);
        goto done;
    }
    const bool ours = errno != ENOMEM && tl_run_folder_is_ours(folder);
    if (!ours && errno == ENOMEM)
        goto done;
    if (!ours) {
        status = no_results(folder);
        goto done;
    }
    if ((status = tl_cli_read_scenario(written, o, &scenario, diag)) != TL_OK ||
        (status = check_day(o, &scenario)) != TL_OK || (status = check_series(folder)) != TL_OK ||
        (status = check_place(place, charts, formats, o)) != TL_OK)
        goto done;
    status = draw_into(place, o, formats, &scenario, series);

done:
    if (status == TL_E_MEMORY)
        tl_complain("out of memory");
    tl_scenario_free(&scenario);
    free(written);
    free(series);
    free(place);
    return status == TL_OK ? TL_EXIT_DONE : tl_exit_for(status);
}

static int cmd_chart(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_chart, &o, &finished);
    if (!finished) {
        struct tl_diag diag;
        tl_diag_init(&diag);
        code = draw(&o, &diag);
        tl_diag_free(&diag);
    }
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_chart = {
    .name = "chart",
    .run = cmd_chart,
    .help = "draw the charts of a run or a spread again",
    .words = "DIR",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(UNITS) | TL_TAKES(FORMAT) | TL_TAKES(DAY) |
             TL_TAKES(QUIET),
    .more = "DIR is the folder of a run, or of a spread with its runs. Without --out the\n"
            "pictures replace those in DIR/charts. --day chooses the day that `day` and\n"
            "`trays` show.\n",
};
