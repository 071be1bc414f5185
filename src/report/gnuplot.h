/* Running gnuplot, and handing text to it. */
#ifndef TOWERLOOP_REPORT_GNUPLOT_H
#define TOWERLOOP_REPORT_GNUPLOT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

struct tl_gnuplot_result {
    bool not_found;   /* no gnuplot on the PATH */
    bool timed_out;   /* killed after the time limit */
    bool interrupted; /* killed because *interrupted was set */
    char said[400];   /* what it wrote to stderr last, on one line */
};

/* Runs `gnuplot -d script` inside `folder`: no shell, no start-up files, C locale. TL_OK when it
 * ended with success, TL_E_CHART otherwise, TL_E_IO or TL_E_MEMORY when it could not be started. */
int tl_gnuplot_run(const char *folder, const char *script, double time_limit_s,
                   const volatile int *interrupted, struct tl_gnuplot_result *result);

/* Decodes one character, and moves *p on; 0xFFFD for a byte that is not UTF-8 and for what stands for
 * no character. */
uint32_t tl_text_next(const char **p);

/* Rough width of a text in a common sans-serif type, in units of the type's size. */
double tl_text_width(const char *utf8);

/* Copies text for display: valid UTF-8 on one line, control and direction marks taken out, runs of
 * blanks made one, cut with "…" to `width` and to `size` bytes (>= 8). Returns how many bytes of
 * `in` it used, so that a second line can go on from there; with `more` the text is broken at a
 * blank, without "…", when it is too wide. */
size_t tl_text_clean(const char *in, double width, bool more, char *out, size_t size);

/* Writes text, cleaned and at most `width` wide, as a single-quoted gnuplot string: nothing in it is
 * expanded or executed. Its words run from the left whatever script it begins in, as on the pages. */
void tl_gnuplot_quote(FILE *f, const char *text, double width);

#endif
