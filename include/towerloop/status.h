/* Result codes shared by the whole library. 0 is success; every failure is negative.
 *
 * The mistakes in a scenario are not codes but a list of messages: TL_E_INPUT only says that the list
 * is not empty, or that an argument is wrong. */
#ifndef TOWERLOOP_STATUS_H
#define TOWERLOOP_STATUS_H

#include "towerloop/api.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TL_STATUS_LIST(X)                                                                          \
    X(TL_OK, 0, "success")                                                                         \
    X(TL_E_MEMORY, -1, "out of memory")                                                            \
    X(TL_E_INPUT, -2, "bad input")                                                                 \
    X(TL_E_IO, -3, "reading or writing a file failed")                                             \
    X(TL_E_SOLVER, -4, "the solver failed")                                                        \
    X(TL_E_LEDGER, -5, "a ledger does not close")                                                  \
    X(TL_E_REFUSED, -6, "the output folder is refused")                                            \
    X(TL_E_CHART, -7, "drawing the charts failed")                                                 \
    X(TL_E_INTERRUPTED, -8, "interrupted")

enum tl_status {
#define TL_STATUS_ENUM(name, value, text) name = (value),
    TL_STATUS_LIST(TL_STATUS_ENUM)
#undef TL_STATUS_ENUM
};

/* A short English text for a code; never NULL. */
TL_API const char *tl_status_text(int status);

#ifdef __cplusplus
}
#endif

#endif
