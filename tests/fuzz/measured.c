/* A log of readings, as `fit` reads it; each that is read can be written and comes back. */
#include <math.h>
#include <string.h>

#include "fuzz.h"
#include "text.h"
#include "towerloop/measured.h"
#include "towerloop/status.h"

static const struct tl_date start = {2027, 5, 1, 0};

static int read(const void *text, size_t size, struct tl_measured_log *log)
{
    struct tl_diag diag;
    tl_diag_init(&diag);
    const int status = tl_measured_read_text("log.csv", text, size, &start, log, &diag);
    tl_fuzz_check_messages(&diag, status, "log.csv", tl_fuzz_lines(text, size));
    tl_diag_free(&diag);
    return status;
}

static void check(const struct tl_measured_log *log)
{
    tl_fuzz_require(log->rows > 0, "no readings");
    for (size_t i = 0; i < log->rows; i++) {
        const struct tl_measured *m = &log->row[i];
        tl_fuzz_require(isfinite(m->t_d) && (i == 0 || m->t_d >= log->row[i - 1].t_d),
                        "time %g of row %zu", m->t_d, i);
        tl_fuzz_require(isfinite(m->low) && isfinite(m->high) && m->low <= m->high,
                        "row %zu: %g to %g", i, m->low, m->high);
        tl_fuzz_require(isnan(m->error) || (m->error > 0 && isfinite(m->error)),
                        "row %zu: error %g", i, m->error);
    }
}

/* A time outside the years of dates is not written as one. */
static bool has_date(const struct tl_measured *m)
{
    return m->t_d > -40000 && m->t_d < 60000;
}

static void write_and_read(const struct tl_measured_log *log)
{
    for (int units = TL_METRIC; units <= TL_US; units++) {
        struct tl_text t = {0};
        struct tl_measured_log back;
        size_t rows = 0;
        tl_measured_add_header(&t);
        for (size_t i = 0; i < log->rows && i < 20; i++)
            if (has_date(&log->row[i])) {
                tl_measured_add(&t, &log->row[i], &start, (enum tl_unit_system)units, false);
                rows++;
            }
        if (rows > 0) {
            tl_fuzz_require(read(t.data, t.length, &back) == TL_OK,
                            "what was written is refused:\n%s", t.data);
            tl_fuzz_require(back.rows == rows, "%zu of %zu rows come back", back.rows, rows);
            tl_measured_free(&back);
        }
        tl_text_free(&t);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_measured_log log;
    if (read(data, size, &log) != TL_OK)
        return 0;
    check(&log);
    write_and_read(&log);
    tl_measured_free(&log);
    return 0;
}
