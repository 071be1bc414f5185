/* Charts of a run that show more, or less, than its rows as they are: the start-up of a new filter with
 * its phases, and one day with its meals. */
#ifndef TOWERLOOP_REPORT_VIEWS_H
#define TOWERLOOP_REPORT_VIEWS_H

#include "drawing.h"

/* What such a drawing is given instead of the options of the run. */
struct tl_view {
    struct tl_chart_options o;
    struct tl_chart_event *event;
    struct tl_view_text {
        char text[96];
    } * text;
    struct tl_chart_limit limit[TL_CHART_LIMITS + 2];
};

/* Until when the chart of a start-up goes on: some time after the filter is ready, or without end. */
double tl_startup_until_d(const struct tl_chart_options *o);
/* What a start-up goes through, in order of time, each until the next one begins. Returns how many there
 * are: without the peaks one after the other only whether the filter becomes ready. */
enum { TL_PHASES = 4 };
struct tl_phase {
    double from_d;
    const char *name;
};
size_t tl_startup_phases(const struct tl_drawing *startup, struct tl_phase phase[TL_PHASES]);

/* Gives the first weeks that have been read their phases, and lays them out. TL_OK or TL_E_MEMORY. */
int tl_view_startup(struct tl_drawing *startup, struct tl_view *v);
/* Gives a day that has been read its meals and what goes on in it, and lays it out. TL_OK or TL_E_MEMORY. */
int tl_view_day(struct tl_drawing *day, struct tl_view *v);
void tl_view_free(struct tl_view *v);
/* What a chart is about; of a day also which one it is, and why that one. */
void tl_view_subject(const struct tl_drawing *d, enum tl_chart_id id, char *text, size_t size);

#endif
