/* towerloop log FILE: a blank log of measurements, to print or to fill in. */
#include <stdio.h>

#include "cli.h"
#include "log_sheet.h"
#include "towerloop/status.h"

static int print_log(const struct tl_options *o, struct tl_diag *diag)
{
    struct tl_scenario scenario = {0};
    struct tl_text text = {0};
    int status = tl_cli_read_scenario(o->word[0], o, &scenario, diag);
    if (status == TL_OK) {
        status = o->csv ? tl_log_sheet_csv(&scenario, o->units, &text)
                        : tl_log_sheet_text(&scenario, o->units, &text);
        if (status == TL_OK)
            fputs(tl_text_string(&text), stdout);
        else
            tl_complain("%s", tl_status_text(status));
    }
    tl_text_free(&text);
    tl_scenario_free(&scenario);
    return status == TL_OK ? TL_EXIT_DONE : tl_exit_for(status);
}

static int cmd_log(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_log, &o, &finished);
    if (!finished) {
        struct tl_diag diag;
        tl_diag_init(&diag);
        code = print_log(&o, &diag);
        tl_diag_free(&diag);
    }
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_log = {
    .name = "log",
    .run = cmd_log,
    .help = "a blank log of measurements, to print or to fill in",
    .words = "FILE",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(CSV),
    .more = "Pages of 60 lines and 80 columns, as towerloop log FILE | lp prints them; with\n"
            "--csv the columns of readings.csv: towerloop log FILE --csv > readings.csv\n",
    .prints_only = true,
};
