/* A log of fish that come and go becomes events. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "csv_log.h"

#define MOST_DELIVERIES 2000
#define MOST_NAMES      100

enum { NAME, COUNT, MEAN_MASS, COLUMNS };
static const struct tl_csv_column column[COLUMNS] = {
    [NAME] = {.name = "name",
              .many = "names of groups",
              .one = "a name of a group",
              .expected = "a name of 1 to 127 bytes",
              .kind = TL_CSV_NAME},
    [COUNT] = {.name = "count",
               .many = "counts of fish",
               .one = "a count of fish",
               .expected = "a whole number from -1e7 to 1e7; fish that leave have a minus",
               .min = -1e7,
               .max = 1e7,
               .kind = TL_CSV_WHOLE},
    [MEAN_MASS] = {.name = "mean_mass_g",
                   .many = "masses of fish",
                   .one = "a mass of one fish",
                   .expected = "a number from 0.01 to 1e5, in g",
                   .min = 0.01,
                   .max = 1e5,
                   .optional = true},
};
static const struct tl_csv_layout layout = {.column = column,
                                            .columns = COLUMNS,
                                            .most_rows = MOST_DELIVERIES,
                                            .same_time = true,
                                            .lines = "deliveries"};

static void take_row(struct tl_reader *r, struct tl_node *n, const struct tl_csv_log *log, size_t i)
{
    const double *value = &log->value[i * COLUMNS];
    struct tl_event e = {.at_d = log->time_d[i],
                         .kind = value[COUNT] > 0 ? TL_EVENT_ADD_FISH : TL_EVENT_REMOVE_FISH,
                         .logged = true,
                         .line = log->line[i]};
    if (value[COUNT] == 0) {
        tl_csv_log_fault(r, n, log, i, "a count above 0, or below 0 for fish that leave",
                         "no fish come or go");
        return;
    }
    if (value[COUNT] > 0 && isnan(value[MEAN_MASS])) {
        tl_csv_log_fault(r, n, log, i, "mean_mass_g for fish that come",
                         "the mass of one fish is missing");
        return;
    }
    memcpy(e.fish.name, log->name[i], TL_NAME_SIZE);
    e.fish.count = fabs(value[COUNT]);
    e.fish.mean_mass_g = value[COUNT] > 0 ? value[MEAN_MASS] : 0;
    tl_event_push(r, n, &e);
}

static size_t names(const struct tl_csv_log *log)
{
    size_t n = 0;
    for (size_t i = 0; i < log->rows; i++) {
        size_t k = 0;
        while (k < i && strcmp(log->name[k], log->name[i]) != 0)
            k++;
        n += k == i;
    }
    return n;
}

void tl_read_deliveries(struct tl_reader *r, struct tl_node *n)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double end_d = s->start_d + s->length_d;
    struct tl_csv_log log;
    size_t outside = 0;
    if (!tl_csv_log_read(r, n, r->draft->s.input[TL_INPUT_DELIVERIES], &layout, &log))
        return;
    if (names(&log) > MOST_NAMES)
        tl_csv_log_fault(r, n, &log, log.rows - 1, "at most 100 groups", "too many groups");
    for (size_t i = 0; i < log.rows && !r->out_of_memory; i++) {
        if (log.time_d[i] < s->start_d || log.time_d[i] >= end_d)
            outside++;
        else
            take_row(r, n, &log, i);
    }
    if (outside > 0)
        tl_warn(r, n,
                "%zu of %zu deliveries lie outside the run, day %.6g to %.6g, and do not count",
                outside, log.rows, s->start_d, end_d);
    r->deliveries = log.path;
    log.path = NULL;
    tl_csv_log_free(&log);
}
