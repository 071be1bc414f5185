/* A lesson: a question, a run, and an explanation whose numbers are those of this very run. It is read from
 * a file NAME.lesson, whose form the guide tells. */
#ifndef TL_LESSON_H
#define TL_LESSON_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/diag.h"
#include "tree.h"

enum {
    TL_LESSON_CHOICES = 5,
    TL_LESSON_FIGURES = 64,
    TL_LESSON_TEXTS = 16,
    TL_LESSON_LINES = 4,
    TL_LESSON_LEVELS = 3,
    TL_LESSON_TABLE = 40 /* rows */
};

/* Where a figure comes from: id, its key in the file. */
#define TL_LESSON_SOURCE_LIST(X)                                                                   \
    X(TL_LESSON_COLUMN, "column")       /* of series.csv; `take` says what of it */                \
    X(TL_LESSON_LIMIT, "limit")         /* of the verdict; `take` says what of it */               \
    X(TL_LESSON_SUMMARY, "summary")     /* a number of summary.json by its path */                 \
    X(TL_LESSON_PARAMETER, "parameter") /* of the scenario, in base units */                       \
    X(TL_LESSON_KEY, "key")             /* of the scenario, as tank.volume, in base units */       \
    X(TL_LESSON_NUMBER, "number")       /* as it is */                                             \
    X(TL_LESSON_ADD, "add")             /* of other figures above it, and numbers: */              \
    X(TL_LESSON_SUBTRACT, "subtract")                                                              \
    X(TL_LESSON_MULTIPLY, "multiply")                                                              \
    X(TL_LESSON_DIVIDE, "divide")

enum tl_lesson_source {
#define TL_LESSON_ENUM(id, word) id,
    TL_LESSON_SOURCE_LIST(TL_LESSON_ENUM) TL_LESSON_SOURCES
};

/* What is taken of a column or of a limit. Times are days of the run. */
#define TL_LESSON_TAKE_LIST(X)                                                                     \
    X(TL_LESSON_HIGHEST, "highest")                                                                \
    X(TL_LESSON_LOWEST, "lowest")                                                                  \
    X(TL_LESSON_FIRST, "first")                                                                    \
    X(TL_LESSON_LAST, "last")                                                                      \
    X(TL_LESSON_MEAN, "mean")                                                                      \
    X(TL_LESSON_WHEN_HIGHEST, "when highest")                                                      \
    X(TL_LESSON_WHEN_LOWEST, "when lowest")                                                        \
    X(TL_LESSON_AT, "at")                 /* the day `at` */                                       \
    X(TL_LESSON_WHEN_ABOVE, "when above") /* first above `level` */                                \
    X(TL_LESSON_WHEN_BELOW, "when below") /* first below `level` */                                \
    X(TL_LESSON_CAUTION, "caution")       /* of a limit: its levels, and the hours beyond them */  \
    X(TL_LESSON_DANGER, "danger")                                                                  \
    X(TL_LESSON_HOURS_CAUTION, "hours beyond caution")                                             \
    X(TL_LESSON_HOURS_DANGER, "hours beyond danger")

enum tl_lesson_take { TL_LESSON_TAKE_LIST(TL_LESSON_ENUM) TL_LESSON_TAKES };
#undef TL_LESSON_ENUM

/* A number, or another figure that stands above. */
struct tl_lesson_operand {
    bool given;
    double number;
    int figure; /* -1: `number` */
};

struct tl_lesson_figure {
    const char *name;
    enum tl_lesson_source source;
    const char *of;  /* column, path, parameter, name of a limit; else NULL */
    const char *run; /* name of the variant; NULL: the scenario as it is */
    enum tl_lesson_take take;
    struct tl_lesson_operand from, to; /* the days looked at */
    struct tl_lesson_operand at, level;
    struct tl_lesson_operand side[2]; /* of a sum, a product and so on */
};

struct tl_lesson_claim {
    const char *text; /* "a < b" */
    struct tl_lesson_operand side[2];
    bool above; /* a > b */
};

struct tl_lesson_texts {
    const char *text[TL_LESSON_TEXTS];
    size_t n;
};

struct tl_lesson_chart {
    const char *title, *unit, *across; /* what the axes show */
    bool hours;                        /* from the start of the window, else days of the run */
    struct tl_lesson_operand from, to;
    size_t rows; /* of the table */
    struct tl_lesson_line {
        const char *name, *column, *run;
    } line[TL_LESSON_LINES];
    size_t lines;
    struct tl_lesson_level {
        const char *name;
        struct tl_lesson_operand at;
    } level[TL_LESSON_LEVELS];
    size_t levels;
};

/* Texts lie in `root`. */
struct tl_lesson {
    char name[48];
    unsigned number; /* its place among the lessons */
    const char *title, *scenario, *question, *look;
    struct tl_lesson_texts choice, explain, equation, teacher, source, set;
    unsigned answer; /* 1.. */
    struct tl_lesson_figure figure[TL_LESSON_FIGURES];
    size_t figures;
    struct tl_lesson_claim claim[TL_LESSON_TEXTS];
    size_t claims;
    struct tl_lesson_chart chart;
    struct tl_node *root;
};

/* Reads a lesson; every fault goes to `diag`. `path` outlives it. TL_OK; TL_E_INPUT; TL_E_IO (errno says
 * why); TL_E_MEMORY. Free in any case. */
int tl_lesson_read(const char *path, struct tl_lesson *out, struct tl_diag *diag);
void tl_lesson_free(struct tl_lesson *l);

/* Words and their meanings: glossary.terms. */
struct tl_glossary {
    struct tl_node *root; /* a mapping of texts */
};
int tl_glossary_read(const char *path, struct tl_glossary *out, struct tl_diag *diag);

/* A figure by its name, or -1. */
int tl_lesson_find(const struct tl_lesson *l, const char *name, size_t length);

/* `text` with every {name} replaced by its value: three digits; {name:1} with so many decimals; {name:clock}
 * a day as the time of day. `value` may be NULL: then it is only looked through. Returns NULL, or the first
 * placeholder that cannot be understood, at which it stops. */
struct tl_text;
const char *tl_lesson_fill(const struct tl_lesson *l, const double *value, const char *text,
                           struct tl_text *out);

#endif
