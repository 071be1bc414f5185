/* report.html, as the commands write it. */
#ifndef TL_REPORT_FILE_H
#define TL_REPORT_FILE_H

#include "report_page.h"

/* Fills in what the scenario asks for, and writes the report of a run or a comparison to
 * <place>/report.html. A status; failures have been reported. */
int tl_cli_report(struct tl_report *r, bool of_run, const char *place);

#endif
