/* A short text for each result code. */
#include "towerloop/status.h"

const char *tl_status_text(int status)
{
    switch (status) {
#define TL_STATUS_CASE(name, value, text)                                                          \
    case (value):                                                                                  \
        return text;
        TL_STATUS_LIST(TL_STATUS_CASE)
#undef TL_STATUS_CASE
    default:
        return "unknown status";
    }
}
