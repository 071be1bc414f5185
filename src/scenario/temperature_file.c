/* A log of temperatures becomes the readings of the setup. */
#include <math.h>
#include <stdlib.h>

#include "csv_log.h"

#define MOST_READINGS 5000000

static const struct tl_csv_column column[] = {
    {.name = "temperature_degC",
     .many = "temperatures",
     .one = "a temperature of the water",
     .expected = "a number from 0 to 40, in degC",
     .max = 40},
};
static const struct tl_csv_layout layout = {
    .column = column, .columns = 1, .most_rows = MOST_READINGS, .lines = "readings"};

/* Water moves slowly: over a few days a straight line tells its course, but what a cold spell or a heat
 * wave did to it is lost. Judgement. */
#define GAP_D         4.0
#define LONGEST_GAP_D 14.0

/* Stretches of the run between two readings. */
static void check_gaps(struct tl_reader *r, struct tl_node *n, const struct tl_csv_log *log)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_text t = {0};
    size_t gaps = 0, longest = 0;
    for (size_t i = 1; i < log->rows; i++) {
        const double from_d = log->time_d[i - 1], to_d = log->time_d[i];
        if (to_d - from_d <= GAP_D || to_d <= s->start_d || from_d >= s->start_d + s->length_d)
            continue;
        if (gaps++ == 0 || to_d - from_d > log->time_d[longest] - log->time_d[longest - 1])
            longest = i;
    }
    if (gaps == 0)
        return;
    const double gap_d = log->time_d[longest] - log->time_d[longest - 1];
    if (gap_d > LONGEST_GAP_D) {
        tl_csv_log_fault(r, n, log, longest - 1, "readings at most 14 d apart",
                         "there is no reading for %.3g d, up to line %u", gap_d,
                         log->line[longest]);
        return;
    }
    tl_text_addf(&t,
                 "there is no reading for %.3g d, up to line %u (stretches over 4 d: %zu); a "
                 "straight line leads across, so heat or cold between is lost",
                 gap_d, log->line[longest], gaps);
    if (!t.failed)
        tl_csv_log_warn(r, log, longest - 1, t.data);
    r->out_of_memory = r->out_of_memory || t.failed;
    tl_text_free(&t);
}

void tl_read_temperatures(struct tl_reader *r, struct tl_node *n)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_csv_log log;
    if (!tl_csv_log_read(r, n, r->draft->s.input[TL_INPUT_TEMPERATURE], &layout, &log))
        return;
    const double end_d = s->start_d + s->length_d;
    if (log.time_d[0] >= end_d || log.time_d[log.rows - 1] <= s->start_d)
        tl_fault(
            r, n, "readings of the days of the run",
            "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g, nothing of it",
            log.time_d[0], log.time_d[log.rows - 1], s->start_d, end_d);
    else if (fmax(log.time_d[0] - s->start_d, end_d - log.time_d[log.rows - 1]) > LONGEST_GAP_D)
        tl_fault(r, n, "readings of the whole run, but for 14 d at its start and its end at most",
                 "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g",
                 log.time_d[0], log.time_d[log.rows - 1], s->start_d, end_d);
    else if (log.time_d[0] > s->start_d || log.time_d[log.rows - 1] < s->start_d + s->length_d)
        tl_warn(r, n,
                "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g; "
                "beyond them the temperature stays at the nearest reading",
                log.time_d[0], log.time_d[log.rows - 1], s->start_d, s->start_d + s->length_d);
    check_gaps(r, n, &log);
    r->draft->s.setup.temperature.readings =
        (struct tl_table){.x = log.time_d, .y = log.value, .n = log.rows};
    log.time_d = log.value = NULL; /* a single column of values is the table's own form */
    tl_csv_log_free(&log);
}
