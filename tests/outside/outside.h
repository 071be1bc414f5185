/* Checks of our functions against values from outside.
 *
 * A data file in tests/data holds rows: inputs, the value expected, its tolerance and why, the
 * status and the publication. A series binds the rows of one quantity to the function that must
 * reproduce them. A group is a table of series about one subject, at the foot of its own .c file;
 * a new subject is a new file with such a table, and one line in main.c.
 *
 * Columns of a data file, in any order: `value`, `tolerance` (absolute, > 0), `basis`, `status`
 * (published, memory, computed, common practice), `source` (the publication, the same text for the
 * same publication), `quantity` where a file serves several series, and the inputs. A window from a
 * to b is written as its middle and half its width. Where the model is known to miss, `model` has
 * what it gives and `drift` (at most the tolerance) how far that may change; else both are empty. */
#ifndef TOWERLOOP_TESTS_OUTSIDE_H
#define TOWERLOOP_TESTS_OUTSIDE_H

#include <stddef.h>

#define OUTSIDE_INPUTS 4

struct outside_input {
    const char *column;
    const char *before; /* how it is shown: "pH " 7, 20 " degC" */
    const char *after;
};

struct outside_series {
    const char *file;     /* in tests/data */
    const char *quantity; /* rows whose column `quantity` says so; NULL: every row */
    const char *what;     /* for people */
    const char *unit;
    struct outside_input input[OUTSIDE_INPUTS]; /* an empty cell is given as NAN and not shown */
    /* The value that must agree with the row's; called anew for each check. */
    double (*value)(const double *input);
    /* What --perturb moves: the library function under test, as listed in moved.c, or a parameter of
     * the model by its field in tl_params; NULL where there is none such (a constant, a whole run
     * too long to repeat): the value itself is shifted then. */
    const char *tested;
};

struct outside_group {
    const char *title;
    const struct outside_series *series;
    size_t count;
};

extern const struct outside_group outside_chemistry;
extern const struct outside_group outside_units;
extern const struct outside_group outside_process;
extern const struct outside_group outside_film;
extern const struct outside_group outside_tower;
extern const struct outside_group outside_startup;
extern const struct outside_group outside_fish;
extern const struct outside_group outside_heat;
extern const struct outside_group outside_pipe;
extern const struct outside_group outside_media;

#endif
