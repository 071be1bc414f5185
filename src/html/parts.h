/* The parts of a report, each inside its own section. */
#ifndef TL_HTML_PARTS_H
#define TL_HTML_PARTS_H

#include "run_data.h"

/* The verdict in a sentence, and what else a reader must know at once. */
void tl_part_verdict(struct tl_html *h, const struct tl_run_data *d);
/* What the scenario asks for. */
void tl_part_asked(struct tl_html *h, const struct tl_report *r);
/* Each limit: worst value, when, for how long. */
void tl_part_limits(struct tl_html *h, const struct tl_run_data *d);
/* What there is to tell besides: filter, weather, doses, days. Empty for many runs. */
void tl_part_besides(struct tl_html *h, const struct tl_run_data *d);
/* The loop as a drawing, with the concentrations of its last day; reads series.csv. */
int tl_part_loop(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size);
/* Where nitrogen, oxygen and alkalinity came from and went. */
void tl_part_ledger(struct tl_html *h, const struct tl_run_data *d);
/* Charts, each with its table of numbers; reads series.csv. */
int tl_part_charts(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size);
/* What limits, what helps, what it costs. TL_OK or TL_E_MEMORY. */
int tl_part_advice(struct tl_html *h, const struct tl_run_data *d);
/* The jobs of the folder's calendar, each once. TL_OK, TL_E_IO with the reason in `why`, or TL_E_MEMORY. */
int tl_part_calendar(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size);
/* Parameters: those that were changed, then the others. */
void tl_part_assumptions(struct tl_html *h, const struct tl_scenario *scenario);
/* What can hurt people and fish. */
void tl_part_cautions(struct tl_html *h, const struct tl_scenario *scenario, enum tl_grade grade,
                      enum tl_unit_system units);
/* A file as it is. TL_OK, TL_E_INPUT or TL_E_IO with the reason in `why`, or TL_E_MEMORY. */
int tl_part_file(struct tl_html *h, const char *folder, const char *name, char *why, size_t size);

/* One picture of r->charts in a figure with a caption: TL_OK; TL_E_CHART (it is not there or no
 * such picture, and a sentence says so); TL_E_IO; TL_E_MEMORY. The figure stays open for what goes with it. */
int tl_part_picture(struct tl_html *h, const struct tl_report *r, const char *name,
                    const char *caption, const char *description);

#endif
