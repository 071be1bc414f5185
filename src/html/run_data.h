/* The results of a run as the page needs them, out of its folder. */
#ifndef TL_HTML_RUN_DATA_H
#define TL_HTML_RUN_DATA_H

#include <jansson.h>

#include "report_page.h"
#include "run_result.h"
#include "writer.h"

struct tl_run_data {
    const struct tl_report *report;
    json_t *summary;
    struct tl_run_result result;
};

/* TL_OK; TL_E_INPUT with the reason in `why`; TL_E_MEMORY. Free in any case. */
int tl_run_data_load(const struct tl_report *r, struct tl_run_data *out, char *why, size_t size);
void tl_run_data_free(struct tl_run_data *d);

/* A member by its path, as "ledger.nitrogen.in.feed": NAN or "" where there is none. */
double tl_run_data_number(const struct tl_run_data *d, const char *path);
const char *tl_run_data_text(const struct tl_run_data *d, const char *path);
const json_t *tl_run_data_at(const struct tl_run_data *d, const char *path);

/* "2027-06-02 08:55, day 25", marked as a time; "-" for none. `iso` as in summary.json. */
void tl_run_data_time(struct tl_html *h, const struct tl_run_data *d, const char *iso);

/* "danger", "caution", "within": how a grade is called in the style sheet. */
const char *tl_grade_class(enum tl_grade grade);

#endif
