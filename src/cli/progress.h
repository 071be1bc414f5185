/* One line on the terminal that says how far a long task is, rewritten in place. */
#ifndef TL_PROGRESS_H
#define TL_PROGRESS_H

#include <stdbool.h>

struct tl_progress {
    bool on;        /* somebody is watching */
    double begin_s; /* nothing is shown for work that is soon done */
    int width;      /* of what stands on the line */
    char text[60];  /* what stands there */
};

/* Nothing is ever shown when `quiet`, when stderr is no terminal, or on one that cannot go back to the
 * start of a line. */
void tl_progress_begin(struct tl_progress *p, bool quiet);
/* Show how far it is, as "simulating: 42 %". ASCII, without a line's end. */
void tl_progress_say(struct tl_progress *p, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* Make the line empty. To be done before anything else is written to the terminal. */
void tl_progress_clear(struct tl_progress *p);

#endif
