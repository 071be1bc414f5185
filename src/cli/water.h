/* What the parts of `towerloop water` share. */
#ifndef TL_WATER_H
#define TL_WATER_H

#include <jansson.h>
#include <stdbool.h>

#include "cli.h"
#include "text.h"
#include "towerloop/remedy.h"

struct tl_water {
    struct tl_remedy_input in;
    bool volume_given; /* otherwise in.volume_m3 is 1 m3, or 1000 gal */
    enum tl_unit_system units;
    struct tl_limits limits;
    struct tl_figures figures;
    struct tl_remedy plan; /* only with --fix */
};

/* Read KEY=VALUE words. Every fault goes into `diag`, as `argument 3`. TL_OK or TL_E_INPUT. */
int tl_water_read(const char *const *word, size_t words, bool fix, struct tl_water *w,
                  struct tl_diag *diag);

/* Whether any limit could be judged; without that there is no verdict. */
bool tl_water_judged(const struct tl_water *w);
void tl_water_print(const struct tl_water *w);
void tl_water_print_plan(const struct tl_water *w);
/* The answer as an object, the plan only if `fix`; NULL when out of memory. */
json_t *tl_water_json(const struct tl_water *w, bool fix);

/* Print a paragraph of lines of at most 80 columns and empty it; lines after the first start with
 * `indent` blanks. */
void tl_water_paragraph(int indent, struct tl_text *t);
/* Three digits for people: "0.023", "<0.001", "-" where there is none. */
struct tl_water_shown {
    char text[48];
};
struct tl_water_shown tl_water_number(double value);
/* The same with a unit in the reader's system. */
struct tl_water_shown tl_water_quantity(const struct tl_water *w, enum tl_dim dim, double base);
/* A mass in the larger unit where it is heavy, in the smaller where it is light. */
struct tl_water_shown tl_water_mass(const struct tl_water *w, double g);
/* Names of a set of readings: "pH, nitrite and alkalinity". */
void tl_water_add_readings(struct tl_text *t, unsigned set);

#endif
