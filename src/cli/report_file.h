/* report.html, as the commands write it. */
#ifndef TL_REPORT_FILE_H
#define TL_REPORT_FILE_H

#include "report_page.h"

enum tl_report_kind { TL_REPORT_RUN, TL_REPORT_COMPARE, TL_REPORT_SPREAD };

/* Fills in what the scenario asks for, and writes the report of a run, a comparison or a spread to
 * <place>/report.html. A status; failures have been reported. */
int tl_cli_report(struct tl_report *r, enum tl_report_kind kind, const char *place);

#endif
