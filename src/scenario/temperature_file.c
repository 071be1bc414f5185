/* A log of temperatures becomes the readings of the setup. */
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

void tl_read_temperatures(struct tl_reader *r, struct tl_node *n)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_csv_log log;
    if (!tl_csv_log_read(r, n, r->draft->s.input[TL_INPUT_TEMPERATURE], &layout, &log))
        return;
    if (log.time_d[0] > s->start_d || log.time_d[log.rows - 1] < s->start_d + s->length_d)
        tl_warn(r, n,
                "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g; "
                "beyond them the temperature stays at the nearest reading",
                log.time_d[0], log.time_d[log.rows - 1], s->start_d, s->start_d + s->length_d);
    r->draft->s.setup.temperature.readings =
        (struct tl_table){.x = log.time_d, .y = log.value, .n = log.rows};
    log.time_d = log.value = NULL; /* a single column of values is the table's own form */
    tl_csv_log_free(&log);
}
