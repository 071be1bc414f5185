/* What the water of the loop is like on the last day of a run. */
#ifndef TL_HTML_LOOP_STATE_H
#define TL_HTML_LOOP_STATE_H

#include <stddef.h>

/* field, column of series.csv */
#define TL_LOOP_STATE_LIST(X)                                                                      \
    X(tank_tan, "tank_tan_mgN_L")                                                                  \
    X(tank_nh3, "tank_nh3_mgN_L")                                                                  \
    X(tank_no2, "tank_no2_mgN_L")                                                                  \
    X(tank_no3, "tank_no3_mgN_L")                                                                  \
    X(tank_o2, "tank_o2_mg_L")                                                                     \
    X(tank_o2_pct, "tank_o2_sat_pct")                                                              \
    X(tank_ph, "tank_ph")                                                                          \
    X(tank_alkalinity, "tank_alkalinity_mgCaCO3_L")                                                \
    X(chamber_o2, "chamber_o2_mg_L")                                                               \
    X(chamber_tan, "chamber_tan_mgN_L")                                                            \
    X(out_tan, "tower_out_tan_mgN_L")                                                              \
    X(out_no2, "tower_out_no2_mgN_L")                                                              \
    X(out_o2, "tower_out_o2_mg_L")                                                                 \
    X(temperature_degC, "temperature_degC")                                                        \
    X(flow_m3_h, "flow_m3_h")                                                                      \
    X(feed_g_d, "feed_g_d")                                                                        \
    X(fish_kg, "fish_kg")

/* Means of the last day (of the whole run if it is shorter), in the units of series.csv; NAN: no value,
 * as behind a tower that stands still all of that day. */
struct tl_loop_state {
#define FIELD(field, column) double field;
    TL_LOOP_STATE_LIST(FIELD)
#undef FIELD
};

/* Reads the table of a run. `interrupted` may be NULL. TL_OK; TL_E_IO or TL_E_CHART with the reason in
 * `why`; TL_E_MEMORY or TL_E_INTERRUPTED. */
int tl_loop_state_read(const char *series_csv, const volatile int *interrupted,
                       struct tl_loop_state *out, char *why, size_t size);

#endif
