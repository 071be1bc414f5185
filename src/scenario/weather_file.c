/* A log of the weather becomes the readings of the setup. */
#include <math.h>
#include <stdlib.h>

#include "csv_log.h"

#define MOST_READINGS 5000000

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

/* --- gaps ------------------------------------------------------------------------------------ */

#define LONGEST_GAP_D 7.0 /* heat and frost come and go in a week; judgement */
#define NAMED         3   /* gaps of a column, by their lines */

/* Without a reading of one column, from row `from` to row `to`; of the ends of the log either row may
 * have none. */
struct gap {
    size_t from, to;
    double length_d;
};

struct gaps {
    struct tl_reader *r;
    struct tl_node *node; /* where the scenario names the log */
    const struct tl_csv_log *log;
    size_t column;
    size_t n;
    struct gap first[NAMED], longest;
};

#define IN_DAYS_D 2 /* longer ones are said in days */

static void add_length(struct tl_text *t, const struct gap *g)
{
    const bool days = g->length_d > IN_DAYS_D;
    tl_text_addf(t, "%.3g %s", days ? g->length_d : g->length_d * 24, days ? "d" : "h");
}

static void add_lines(struct tl_text *t, const struct tl_csv_log *log, const struct gap *g)
{
    add_length(t, g);
    tl_text_addf(t, " (lines %u to %u)", log->line[g->from], log->line[g->to]);
}

static bool by_latitude(const struct gaps *g)
{
    return g->column == SUN && tl_place(g->r, "weather.latitude");
}

/* Too long, whatever is drawn across. */
static void refuse(const struct gaps *g, const struct gap *gap)
{
    const bool sun = g->column == SUN;
    struct tl_text t = {0};
    if (by_latitude(g) || !(sun || gap->length_d > LONGEST_GAP_D))
        return;
    add_length(&t, gap);
    tl_csv_log_fault(g->r, g->node, g->log, gap->from,
                     sun ? "a reading every 3 h, or weather.latitude for the sun meanwhile"
                         : "readings at most 7 d apart",
                     "%s has no reading for %s, up to line %u", column[g->column].name,
                     tl_text_string(&t), g->log->line[gap->to]);
    tl_text_free(&t);
}

/* Only what falls into the run counts. */
static void look_between(struct gaps *g, size_t from, size_t to)
{
    const struct tl_setup *s = &g->r->draft->s.setup;
    const double *t_d = g->log->time_d;
    const struct gap gap = {from, to, t_d[to] - t_d[from]};
    if (gap.length_d <= TL_WEATHER_GAP_D || t_d[to] <= s->start_d ||
        t_d[from] >= s->start_d + s->length_d)
        return;
    if (g->n < NAMED)
        g->first[g->n] = gap;
    g->n++;
    if (gap.length_d > g->longest.length_d)
        g->longest = gap;
    refuse(g, &gap);
}

static void warn_of(const struct gaps *g)
{
    struct tl_text t = {0};
    if (g->n == 0 || (g->column == SUN && !by_latitude(g)))
        return; /* those of the sun were refused */
    tl_text_addf(&t, "%s has no reading for ", column[g->column].name);
    for (size_t i = 0; i < g->n && i < NAMED; i++) {
        tl_text_add(&t, i == 0 ? "" : ", ");
        add_lines(&t, g->log, &g->first[i]);
    }
    if (g->n > NAMED) {
        tl_text_addf(&t, " and %zu times more, at the longest ", g->n - NAMED);
        add_lines(&t, g->log, &g->longest);
    }
    tl_text_add(&t, g->column == SUN
                        ? "; meanwhile the sun is reckoned from latitude and cloud"
                        : "; a straight line leads across, so heat, frost or calm between is lost");
    if (!t.failed)
        tl_csv_log_warn(g->r, g->log, g->first[0].from, t.data);
    g->r->out_of_memory = g->r->out_of_memory || t.failed;
    tl_text_free(&t);
}

static void check_gaps(struct tl_reader *r, struct tl_node *n, const struct tl_csv_log *log,
                       size_t k)
{
    struct gaps g = {.r = r, .node = n, .log = log, .column = k};
    size_t last = 0; /* the log's own ends count as well: a column may begin late */
    bool any = false;
    for (size_t i = 0; i < log->rows; i++) {
        if (isnan(log->value[i * log->columns + k]))
            continue;
        if (i > 0)
            look_between(&g, last, i);
        last = i;
        any = true;
    }
    if (!any)
        return;
    look_between(&g, last, log->rows - 1);
    warn_of(&g);
}

#define DRIEST_PCT 5.0 /* outdoors the air is hardly ever as dry; judgement */

/* A sensor that has failed reads nothing, and dry air chills the water. */
static void check_humidity(struct tl_reader *r, const struct tl_csv_log *log)
{
    struct tl_text t = {0};
    size_t dry = 0, first = 0;
    for (size_t i = 0; i < log->rows; i++)
        if (log->value[i * log->columns + HUMIDITY] < DRIEST_PCT && dry++ == 0)
            first = i;
    if (dry == 0)
        return;
    tl_text_addf(&t,
                 "humidity_pct is below %g %% here (lines like it: %zu), drier than air outdoors; "
                 "look at the sensor: dry air chills the water",
                 DRIEST_PCT, dry);
    if (!t.failed)
        tl_csv_log_warn(r, log, first, t.data);
    r->out_of_memory = r->out_of_memory || t.failed;
    tl_text_free(&t);
}

/* Of a run that begins before the log or ends after it. */
static void look_beyond(struct tl_reader *r, struct tl_node *n, const struct tl_csv_log *log)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double first = log->time_d[0];
    const double last = log->time_d[log->rows - 1];
    const double end = s->start_d + s->length_d;
    if (first >= end || last <= s->start_d)
        tl_fault(
            r, n, "readings of the days of the run",
            "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g, nothing of it",
            first, last, s->start_d, end);
    else if (fmax(first - s->start_d, end - last) > LONGEST_GAP_D)
        tl_fault(r, n, "readings of the whole run, but for 7 d at its start and its end at most",
                 "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g", first, last,
                 s->start_d, end);
    else if (first > s->start_d || last < end)
        tl_warn(r, n,
                "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g; "
                "beyond them the weather stays as in the nearest reading, but for the sun, which "
                "is reckoned from the latitude",
                first, last, s->start_d, end);
    if (s->weather.log[TL_LOG_SUN].n > 0 && !tl_place(r, "weather.latitude") &&
        (first - s->start_d > TL_WEATHER_GAP_D || end - last > TL_WEATHER_GAP_D))
        tl_fault_missing(r, tl_place(r, "weather"), "latitude",
                         "degrees north of the equator, as 48 deg, for the sun beyond the "
                         "readings");
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
    struct tl_weather *w = &r->draft->s.setup.weather;
    struct tl_csv_log log;
    if (!tl_csv_log_read(r, n, r->draft->s.input[TL_INPUT_WEATHER], &layout, &log))
        return;
    bool room = take(&log, AIR, 1, &w->air.readings);
    for (size_t i = 0; i < TL_NWEATHER_LOG && room; i++) {
        room = take(&log, log_of[i].column, log_of[i].unit, &w->log[i]);
        struct tl_node *key = log_of[i].key ? tl_place(r, log_of[i].key) : NULL;
        if (key && w->log[i].n > 0)
            tl_fault(r, key, "one of the two", "the file has the column %s, too",
                     column[log_of[i].column].name);
    }
    look_beyond(r, n, &log);
    check_humidity(r, &log);
    for (size_t k = 0; k < COLUMNS; k++)
        check_gaps(r, n, &log, k);
    r->out_of_memory = r->out_of_memory || !room;
    tl_csv_log_free(&log);
}
