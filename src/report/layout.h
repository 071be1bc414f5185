/* Where things go on a chart: axis ranges, ticks in days and dates, words that must not collide.
 * Pure functions of numbers; pixels count from the left and from the bottom. */
#ifndef TOWERLOOP_REPORT_LAYOUT_H
#define TOWERLOOP_REPORT_LAYOUT_H

#include <stddef.h>

/* 1, 2 or 5 times a power of ten: the smallest step for which `span` takes at most `most` of them. */
double tl_nice_step(double span, double most);

struct tl_calendar {
    int year, month, day;
};
struct tl_calendar tl_calendar_at(const struct tl_calendar *start, long days);

struct tl_tick {
    double t_d;
    char clock[32]; /* first line: "day 20" or "06:00" */
    char date[64];  /* second line: "21 May" or "1 May 2027"; may be empty */
};
#define TL_TICKS 40
/* Ticks for from_d..to_d, so few that labels of 90 px fit beside each other. */
size_t tl_time_ticks(const struct tl_calendar *start, double from_d, double to_d, double width_px,
                     struct tl_tick out[TL_TICKS]);

/* Moves rising positions apart so that neighbours are at least `gap` from each other and all lie in
 * low..high (if they can), each as near to where it was as that allows. */
void tl_spread(double *position, size_t n, double gap, double low, double high);

struct tl_word {     /* a word beside a vertical line, above the plot */
    double x;        /* of the line */
    double width;    /* of the text */
    int row;         /* out: 0 = lowest, -1 = no room */
    int to_the_left; /* out: the text ends at the line instead of starting there */
};
/* Chooses rows so that no text covers another or is crossed by another word's line; the lines rise in
 * x. Returns how many rows are in use. */
int tl_place_words(struct tl_word *word, size_t n, int rows, double left_px, double right_px);

#endif
