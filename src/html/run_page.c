/* The report of a run. */
#include <string.h>

#include "document.h"
#include "page_file.h"
#include "parts.h"
#include "towerloop/status.h"

/* The cautions fill the printed page of the loop. */
enum { ANSWER, LIMITS, ADVICE, JOBS, LOOP, CAUTIONS, CHARTS, ASKED, ASSUMED, SCENARIO, PARTS };
static const struct tl_document_part part[PARTS] = {
    [ANSWER] = {"answer", "The answer"},
    [LIMITS] = {"limits", "The limits"},
    [ADVICE] = {"advice", "What limits, and what to change"},
    [JOBS] = {"jobs", "What is due, by date"},
    [LOOP] = {"loop", "The loop"},
    [CAUTIONS] = {"cautions", "Before you build or change anything"},
    [CHARTS] = {"charts", "The charts"},
    [ASKED] = {"asked", "What was asked"},
    [ASSUMED] = {"assumed", "What is assumed"},
    [SCENARIO] = {"scenario", "The scenario"},
};

static int write_part(struct tl_html *h, const struct tl_run_data *d, int id, char *why,
                      size_t size)
{
    const struct tl_report *r = d->report;
    switch (id) {
    case ANSWER:
        tl_part_verdict(h, d);
        return TL_OK;
    case LIMITS:
        tl_part_limits(h, d);
        tl_part_besides(h, d);
        return TL_OK;
    case ADVICE:
        return tl_part_advice(h, d);
    case JOBS:
        return tl_part_calendar(h, d, why, size);
    case LOOP: {
        const int status = tl_part_loop(h, d, why, size);
        tl_part_ledger(h, d);
        return status;
    }
    case CHARTS:
        return tl_part_charts(h, d, why, size);
    case CAUTIONS:
        tl_part_cautions(h, r->scenario, d->result.grade, r->units);
        return TL_OK;
    case ASKED:
        tl_part_asked(h, r);
        return TL_OK;
    case ASSUMED:
        tl_part_assumptions(h, r->scenario);
        return TL_OK;
    default:
        tl_html_element(h, "p",
                        "All of it, with every default filled in. Running this text repeats the "
                        "run.");
        return tl_part_file(h, r->folder, "scenario.yaml", why, size);
    }
}

static int write_page(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size)
{
    const char *title = d->report->scenario->title;
    char lead[160];
    int status = TL_OK;
    tl_format(lead, sizeof lead, "Report of a simulation: %.10s to %.10s.",
              tl_run_data_text(d, "start"), tl_run_data_text(d, "end"));
    tl_document_begin(h, title && *title ? title : "(no title)", lead, part, PARTS);
    for (int id = 0; id < PARTS && status == TL_OK; id++) {
        tl_document_section(h, &part[id]);
        status = write_part(h, d, id, why, size);
        tl_html_close(h);
    }
    tl_document_end(h, tl_run_data_text(d, "version"), tl_run_data_text(d, "build.commit"));
    return status;
}

int tl_report_run(const struct tl_report *r, const char *path, char *why, size_t size)
{
    struct tl_run_data d;
    struct tl_html h = {.depth = 0};
    *why = '\0';
    int status = tl_run_data_load(r, &d, why, size);
    if (status == TL_OK)
        status = write_page(&h, &d, why, size);
    if (status == TL_OK)
        status = tl_page_file_write(&h, path, why, size);
    tl_html_free(&h);
    tl_run_data_free(&d);
    return status;
}
