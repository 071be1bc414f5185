/* What a lesson's run came to: the values of its figures, and the courses of its chart. */
#ifndef TL_LESSON_TOLD_H
#define TL_LESSON_TOLD_H

#include "lesson.h"
#include "text.h"
#include "towerloop/scenario.h"

/* One run of the lesson's scenario. */
struct tl_lesson_run {
    const char *name; /* of the variant; NULL: as it is */
    const struct tl_scenario *scenario;
    const char *folder; /* its results, with series.csv */
};

struct tl_course {
    double *across, *value; /* hours of the window or days of the run; NAN: none */
    size_t points;
};

struct tl_lesson_told {
    const struct tl_lesson *lesson;
    double value[TL_LESSON_FIGURES];
    struct tl_course course[TL_LESSON_LINES];
    double from, to; /* of the chart, across */
    double level[TL_LESSON_LEVELS];
};

#define TL_LESSON_WHY 512

/* TL_OK; TL_E_INPUT (a figure has no value, a claim does not hold, a run or a column is not there),
 * TL_E_IO or TL_E_CHART with the reason in `why`; TL_E_MEMORY. Free in any case. */
int tl_lesson_tell(const struct tl_lesson *l, const struct tl_lesson_run *run, size_t runs,
                   struct tl_lesson_told *out, char why[TL_LESSON_WHY]);
void tl_lesson_told_free(struct tl_lesson_told *t);

/* The text with its numbers. Caller frees; NULL when out of memory. */
char *tl_lesson_say(const struct tl_lesson_told *t, const char *text);
/* The value of a course in a row of the table, the nearest that was recorded; and where it stands. */
double tl_lesson_cell(const struct tl_lesson_told *t, size_t line, size_t row);
double tl_lesson_row(const struct tl_lesson_told *t, size_t row);

#endif
