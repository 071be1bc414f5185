/* A log of the weather becomes the readings of the setup. */
#include <math.h>
#include <stdlib.h>

#include "csv_log.h"

#define MOST_READINGS  5000000
#define MOST_SUN_GAP_H 3.001

enum { AIR, HUMIDITY, WIND, CLOUD, SUN };

static const struct tl_csv_column column[] = {
    [AIR] = {.name = "air_temperature_degC",
             .many = "temperatures of the air",
             .one = "a temperature of the air",
             .expected = "a number from -40 to 50, in degC",
             .min = -40,
             .max = 50},
    [HUMIDITY] = {.name = "humidity_pct",
                  .many = "humidities",
                  .one = "a relative humidity",
                  .expected = "a number from 0 to 100, in %",
                  .max = 100,
                  .optional = true},
    [WIND] = {.name = "wind_m_s",
              .many = "winds",
              .one = "a wind",
              .expected = "a number from 0 to 40, in m/s",
              .max = 40,
              .optional = true},
    [CLOUD] = {.name = "cloud_pct",
               .many = "clouds",
               .one = "a cloud cover",
               .expected = "a number from 0 to 100, in %",
               .max = 100,
               .optional = true},
    [SUN] = {.name = "sun_W_m2",
             .many = "sunshine",
             .one = "sunshine on level ground",
             .expected = "a number from 0 to 1500, in W/m2",
             .max = 1500,
             .optional = true},
};
#define COLUMNS (sizeof column / sizeof *column)
static const struct tl_csv_layout layout = {.column = column,
                                            .columns = COLUMNS,
                                            .most_rows = MOST_READINGS,
                                            .lines = "readings",
                                            .warns = true};

/* The readings there are of one column, in the setup's unit. */
static bool take(const struct tl_csv_log *log, size_t k, double unit, struct tl_table *out)
{
    size_t n = 0;
    for (size_t i = 0; i < log->rows; i++)
        if (!isnan(log->value[i * log->columns + k]))
            n++;
    if (n == 0)
        return true;
    *out = (struct tl_table){.x = malloc(n * sizeof(double)), .y = malloc(n * sizeof(double))};
    if (!out->x || !out->y)
        return false;
    for (size_t i = 0; i < log->rows; i++) {
        const double value = log->value[i * log->columns + k];
        if (isnan(value))
            continue;
        out->x[out->n] = log->time_d[i];
        out->y[out->n++] = value * unit;
    }
    return true;
}

/* Between two readings lies a straight line: across a night it shines. */
static void warn_of_gaps(struct tl_reader *r, struct tl_node *n, const struct tl_table *sun)
{
    size_t widest = 0;
    for (size_t i = 1; i < sun->n; i++)
        if (widest == 0 || sun->x[i] - sun->x[i - 1] > sun->x[widest] - sun->x[widest - 1])
            widest = i;
    if (widest == 0 || (sun->x[widest] - sun->x[widest - 1]) * 24 <= MOST_SUN_GAP_H)
        return;
    tl_warn(r, n,
            "%s has no reading for %.3g h from day %.6g on; a straight line across it shines by "
            "night: log it every hour, or leave the column out for the sun by latitude",
            column[SUN].name, (sun->x[widest] - sun->x[widest - 1]) * 24, sun->x[widest - 1]);
}

void tl_read_weather(struct tl_reader *r, struct tl_node *n)
{
    static const struct {
        size_t column;
        const char *key; /* whose place it takes */
        double unit;
    } log_of[TL_NWEATHER_LOG] = {
        [TL_LOG_HUMIDITY] = {HUMIDITY, "weather.humidity", 0.01},
        [TL_LOG_WIND] = {WIND, "weather.wind", 1},
        [TL_LOG_CLOUD] = {CLOUD, "weather.cloud", 0.01},
        [TL_LOG_SUN] = {SUN, NULL, 1},
    };
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_weather *w = &r->draft->s.setup.weather;
    struct tl_csv_log log;
    if (!tl_csv_log_read(r, n, r->draft->s.input[TL_INPUT_WEATHER], &layout, &log))
        return;
    if (log.time_d[0] >= s->start_d + s->length_d || log.time_d[log.rows - 1] <= s->start_d)
        tl_fault(
            r, n, "readings of the days of the run",
            "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g, nothing of it",
            log.time_d[0], log.time_d[log.rows - 1], s->start_d, s->start_d + s->length_d);
    else if (log.time_d[0] > s->start_d || log.time_d[log.rows - 1] < s->start_d + s->length_d)
        tl_warn(r, n,
                "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g; "
                "beyond them the weather stays as in the nearest reading, but for the sun, which "
                "is reckoned from the latitude",
                log.time_d[0], log.time_d[log.rows - 1], s->start_d, s->start_d + s->length_d);
    bool room = take(&log, AIR, 1, &w->air.readings);
    for (size_t i = 0; i < TL_NWEATHER_LOG && room; i++) {
        room = take(&log, log_of[i].column, log_of[i].unit, &w->log[i]);
        struct tl_node *key = log_of[i].key ? tl_place(r, log_of[i].key) : NULL;
        if (key && w->log[i].n > 0)
            tl_fault(r, key, "one of the two", "the file has the column %s, too",
                     column[log_of[i].column].name);
    }
    if (room)
        warn_of_gaps(r, n, &w->log[TL_LOG_SUN]);
    r->out_of_memory = r->out_of_memory || !room;
    tl_csv_log_free(&log);
}
