/* The report of a run or a comparison: one HTML file that holds all it needs and asks nothing of the
 * network. It is drawn up from what lies in the folder, so the same folder gives the same report. */
#ifndef TL_REPORT_PAGE_H
#define TL_REPORT_PAGE_H

#include "towerloop/scenario.h"
#include "towerloop/summary.h"
#include "towerloop/units.h"

#define TL_REPORT_FILE "report.html"

/* A line of what the scenario asks for. */
struct tl_asked {
    const char *label; /* "": goes on with the one before */
    const char *text;
};

struct tl_told {
    const struct tl_asked *line;
    size_t lines;
};

struct tl_report {
    const char *folder;                 /* of the results */
    const char *charts;                 /* where the SVG charts lie; NULL: there are none */
    const char *no_charts;              /* then why, a sentence */
    const struct tl_scenario *scenario; /* of the run; of a comparison that of the first variant */
    const struct tl_spread_verdict *spread; /* of a run; NULL: that of its summary, if any */
    const struct tl_told *told;             /* of the run; of a comparison one for each variant */
    enum tl_unit_system units;
    const volatile int *interrupted; /* may be NULL */
};

/* Write the report of the run, or of the comparison, in `folder` to `path`, where it appears when whole.
 * TL_OK; TL_E_INPUT (the folder does not hold what it should), TL_E_IO or TL_E_CHART with the reason in
 * `why`; TL_E_MEMORY or TL_E_INTERRUPTED. */
int tl_report_run(const struct tl_report *r, const char *path, char *why, size_t size);
int tl_report_compare(const struct tl_report *r, const char *path, char *why, size_t size);
/* The same of a spread; its charts are those in its folder. */
int tl_report_spread(const struct tl_report *r, const char *path, char *why, size_t size);

#endif
