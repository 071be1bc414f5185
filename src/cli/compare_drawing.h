/* The charts of a comparison. */
#ifndef TL_COMPARE_DRAWING_H
#define TL_COMPARE_DRAWING_H

#include "towerloop/chart.h"
#include "towerloop/scenario.h"

struct tl_compare_shown {
    const char *name;
    const char *folder; /* of its run */
    const struct tl_scenario *scenario;
};

/* Draw the charts of `n` variants into `charts`. Returns what tl_compare_chart_draw() does. */
int tl_compare_draw(const struct tl_compare_shown *variant, size_t n, const char *charts,
                    unsigned formats, const volatile int *interrupted,
                    struct tl_chart_outcome *outcome);

/* The same as SVG, from the folder of a comparison that was done. TL_E_INPUT, with the reason in
 * outcome->fault, when it is none. */
int tl_compare_draw_again(const char *folder, const char *charts, const volatile int *interrupted,
                          struct tl_chart_outcome *outcome);
/* tl_run_series_check() of each of its variants, the first that is wrong. */
int tl_compare_check_series(const char *folder, const volatile int *interrupted, char *why,
                            size_t size);
/* The path of the scenario of its first variant; caller frees; NULL with the reason in `why`. */
char *tl_compare_first_scenario(const char *folder, char *why, size_t size);

#endif
