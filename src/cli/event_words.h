/* Events in a few words. */
#ifndef TL_EVENT_WORDS_H
#define TL_EVENT_WORDS_H

#include "towerloop/setup.h"
#include "towerloop/units.h"

struct tl_event_words {
    char text[TL_NAME_SIZE + 40];
};

/* "pump off", "44 new koi added": what happens, without the time. */
struct tl_event_words tl_event_words(const struct tl_event *e, enum tl_unit_system units);

#endif
