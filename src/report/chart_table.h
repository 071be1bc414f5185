/* The curves of the charts as numbers: what a reader gets who cannot see a picture. */
#ifndef TOWERLOOP_REPORT_CHART_TABLE_H
#define TOWERLOOP_REPORT_CHART_TABLE_H

#include <stddef.h>
#include <stdint.h>

#include "towerloop/chart.h"

struct tl_chart_tables;

/* Reads `series_csv` of `o` in stretches of time: hours of a short run, days, weeks of a long one, at most
 * some seventy. They suit the run, or a longer one of `span_d` days. `units` and `limits` of `o` are looked at besides. TL_OK, or what tl_charts_draw() returns
 * for a table it cannot read, with the reason in outcome->fault. */
int tl_chart_tables_read(const struct tl_chart_options *o, double span_d,
                         struct tl_chart_outcome *outcome, struct tl_chart_tables **out);
/* The same of the other charts: of those of a start-up, in days, weeks of a long one; of those of a day, in
 * its hours. `starting`, `ready_d` and the day of `o` are looked at, too. What the run does not have has no
 * rows and no columns. */
int tl_chart_tables_read_startup(const struct tl_chart_options *o, struct tl_chart_outcome *outcome,
                                 struct tl_chart_tables **out);
int tl_chart_tables_read_day(const struct tl_chart_options *o, struct tl_chart_outcome *outcome,
                             struct tl_chart_tables **out);
void tl_chart_tables_free(struct tl_chart_tables *t);

/* How far apart the rows are that it was read from, in hours, where they may miss what a day does; else 0. */
double tl_chart_tables_far_apart_h(const struct tl_chart_tables *t);
/* The length of a stretch, in days. */
double tl_chart_tables_stretch_d(const struct tl_chart_tables *t);
size_t tl_chart_tables_rows(const struct tl_chart_tables *t);
/* Where a stretch begins, days since day 0. */
double tl_chart_tables_from_d(const struct tl_chart_tables *t, size_t row);

/* Of a chart; without columns it is not drawn for this run. Of many trays there are the top, the middle
 * and the bottom one. */
size_t tl_chart_tables_columns(const struct tl_chart_tables *t, enum tl_chart_id id);
#define TL_CHART_HEADING_SIZE 160
/* "Oxygen, mg/L: tank" */
void tl_chart_tables_heading(const struct tl_chart_tables *t, enum tl_chart_id id, size_t column,
                             char heading[TL_CHART_HEADING_SIZE]);
/* Lowest and highest value of a stretch, or of the whole run; NAN: none. */
#define TL_WHOLE_RUN SIZE_MAX
struct tl_chart_range {
    double low, high;
};
struct tl_chart_range tl_chart_tables_cell(const struct tl_chart_tables *t, enum tl_chart_id id,
                                           size_t column, size_t row);
/* The same of a column of series.csv that some chart needs. */
struct tl_chart_range tl_chart_tables_of(const struct tl_chart_tables *t, const char *column,
                                         size_t row);
/* The phases of a start-up that a stretch has a part in, "ammonia builds up; nitrite builds up"; "": none. */
#define TL_CHART_PHASES_SIZE 160
void tl_chart_tables_phases(const struct tl_chart_tables *t, size_t row,
                            char phases[TL_CHART_PHASES_SIZE]);

/* The profile down the tower on the day that was read: so many trays, 0: there is none. */
size_t tl_chart_tables_trays(const struct tl_chart_tables *t);
/* Its columns: "Oxygen, mg/L". */
size_t tl_chart_profile_columns(void);
void tl_chart_profile_heading(size_t column, char heading[TL_CHART_HEADING_SIZE]);
/* Of a tray, 1 is the top one, or of the water that comes down on it, 0: mean, lowest and highest of the
 * day; NAN: none. */
struct tl_chart_spread {
    double mean;
    struct tl_chart_range range;
};
struct tl_chart_spread tl_chart_tables_tray(const struct tl_chart_tables *t, size_t tray,
                                            size_t column);

/* What a chart is about, and the note at its foot ("": none). */
const char *tl_chart_subject(enum tl_chart_id id);
const char *tl_chart_note(enum tl_chart_id id);

#endif
