/* Reads the means of a run's last day. */
#include "loop_state.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "recorded.h"
#include "text.h"
#include "towerloop/status.h"

enum { FIELDS = sizeof(struct tl_loop_state) / sizeof(double) };
static const char *const column[] = {
#define COLUMN(field, name) name,
    TL_LOOP_STATE_LIST(COLUMN)
#undef COLUMN
};

static bool wanted(const char *name)
{
    for (size_t i = 0; i < FIELDS; i++)
        if (strcmp(name, column[i]) == 0)
            return true;
    return strcmp(name, "time_d") == 0;
}

static void finish(const double sum[FIELDS], const size_t count[FIELDS], struct tl_loop_state *out)
{
    size_t i = 0;
#define MEAN(field, name)                                                                          \
    out->field = count[i] > 0 ? sum[i] / (double)count[i] : NAN;                                   \
    i++;
    TL_LOOP_STATE_LIST(MEAN)
#undef MEAN
}

int tl_loop_state_read(const char *series_csv, const volatile int *interrupted,
                       struct tl_loop_state *out, char *why, size_t size)
{
    struct tl_recorded r;
    double sum[FIELDS] = {0}, value[FIELDS + 1];
    size_t count[FIELDS] = {0}, at[FIELDS];
    int status = tl_recorded_open(series_csv, wanted, interrupted, &r, why, size);
    if (status != TL_OK)
        return status;
    for (size_t i = 0; i < FIELDS; i++)
        at[i] = tl_recorded_column(&r, column[i]);
    const size_t time = tl_recorded_column(&r, "time_d");
    for (size_t row = 0; row < r.rows && status == TL_OK; row++) {
        status = r.columns <= FIELDS + 1 ? tl_recorded_next(&r, value, why, size) : TL_E_CHART;
        if (status != TL_OK || value[time] < r.to_d - 1)
            continue;
        for (size_t i = 0; i < FIELDS; i++)
            if (at[i] < r.columns && isfinite(value[at[i]])) {
                sum[i] += value[at[i]];
                count[i]++;
            }
    }
    if (status == TL_E_CHART && !*why)
        tl_format(why, size, "%s has a column twice", series_csv);
    tl_recorded_close(&r);
    finish(sum, count, out);
    return status;
}
