/* A log of meals as they were given becomes the feeding of the setup. */
#include "csv_log.h"

#define MOST_MEALS 200000
#define NEAR_D     1.0 /* a short run may lie between the meals of its day */

static const struct tl_csv_column column[] = {
    {.name = "feed_g",
     .many = "masses of feed",
     .one = "a mass of feed",
     .expected = "a number from 0 to 1e8, in g",
     .max = 1e8},
};
static const struct tl_csv_layout layout = {
    .column = column, .columns = 1, .most_rows = MOST_MEALS, .lines = "meals"};

void tl_read_feed_log(struct tl_reader *r, struct tl_node *n)
{
    struct tl_setup *s = &r->draft->s.setup;
    const double end_d = s->start_d + s->length_d;
    struct tl_csv_log log;
    size_t outside = 0;
    if (!tl_csv_log_read(r, n, r->draft->s.input[TL_INPUT_FEED], &layout, &log))
        return;
    for (size_t i = 0; i < log.rows; i++)
        outside += log.time_d[i] < s->start_d || log.time_d[i] >= end_d;
    if (log.time_d[log.rows - 1] < s->start_d - NEAR_D || log.time_d[0] > end_d + NEAR_D)
        tl_fault(r, n, "meals of the days of the run",
                 "all %zu meals lie outside the run, day %.6g to %.6g", log.rows, s->start_d,
                 end_d);
    else if (outside > 0)
        tl_warn(r, n, "%zu of %zu meals lie outside the run, day %.6g to %.6g, and do not count",
                outside, log.rows, s->start_d, end_d);
    s->feeding.log = (struct tl_table){.x = log.time_d, .y = log.value, .n = log.rows};
    log.time_d = log.value = NULL; /* a single column of values is the table's own form */
    tl_csv_log_free(&log);
}
