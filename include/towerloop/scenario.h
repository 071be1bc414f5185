/* A scenario: the YAML file a keeper writes, read into base units.
 *
 * Life cycle: tl_scenario_read() -> (edit through tl_scenario_options.set) -> setup -> model. */
#ifndef TOWERLOOP_SCENARIO_H
#define TOWERLOOP_SCENARIO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "towerloop/diag.h"
#include "towerloop/distribution.h"
#include "towerloop/limits.h"
#include "towerloop/setup.h"
#include "towerloop/units.h"

struct tl_date { /* proleptic Gregorian, local standard time */
    int year;    /* 1900..2200 */
    int month;   /* 1..12 */
    int day;     /* 1..31 */
    int second;  /* of the day, 0..86399 */
};

/* The date `t_d` days after 00:00 of `start`'s day, rounded to the second. */
struct tl_date tl_date_at(const struct tl_date *start, double t_d);
/* "2027-05-01T06:00:00" into `text` (at least 20 bytes). */
void tl_date_iso(const struct tl_date *d, char *text, size_t size);

/* What things cost, in the currency the user named. NAN: not given, so not counted. */
struct tl_costs {
    char currency[TL_NAME_SIZE]; /* "" when not named */
    double pump_w, aerator_w;    /* electrical power while they run, of all pumps together */
    double electricity_per_kwh, water_per_m3;
    double feed_per_kg, baking_soda_per_kg, salt_per_kg;
    double media_per_m3, tray_each, other_once; /* to build it */
};

/* What a tower weighs; no figure of the water hangs on it. */
struct tl_building {
    double bulk_density_kg_m3; /* of the dry media as they lie */
    double water_held;  /* by the media while the pump runs and drips off: share of the bed */
    double tray_mass_g; /* of one empty tray */
};

/* The scenario with some keys changed. */
struct tl_variant {
    char name[TL_NAME_SIZE];
    char **set; /* "KEY=VALUE" */
    size_t sets;
    unsigned line; /* of the scenario file */
};

/* Files that a scenario names; their copies lie in inputs/ of a run's folder. */
enum tl_input {
    TL_INPUT_TEMPERATURE,
    TL_INPUT_WEATHER,
    TL_INPUT_FEED,
    TL_INPUT_DELIVERIES,
    TL_NINPUT
};

/* A number that is not known for sure. */
#define TL_UNCERTAIN_PATH 96
#define TL_UNCERTAIN_MOST 40
struct tl_uncertain {
    char path[TL_UNCERTAIN_PATH]; /* of its key, as --set takes it */
    enum tl_dim dim;
    struct tl_distribution d; /* base unit */
};

struct tl_scenario {
    char *path;  /* file as named by the user, or NULL */
    char *title; /* never NULL once read */
    struct tl_date start;
    double report_every_d;
    char *input[TL_NINPUT]; /* as written in the scenario, or NULL */
    struct tl_limits limits;
    struct tl_setup setup;
    struct tl_costs costs;
    struct tl_building building;
    struct tl_variant *variant; /* in file order */
    size_t variants;
    struct tl_uncertain *spread; /* in file order; of those that stand, each is fit to be varied */
    size_t spreads;
};

struct tl_scenario_options {
    const char *const *set; /* "KEY=VALUE", a dotted path: "fish[0].count=3" */
    size_t sets;
    /* Where each set comes from, for messages; must outlive the diag's use. NULL, or NULL for one:
     * "--set". */
    const char *const *set_from;
};

/* Read a scenario file. All faults found go to `diag` (must be initialised); returns TL_OK, TL_E_IO
 * (the file cannot be read; a message says why), TL_E_INPUT or TL_E_MEMORY. On failure *out is empty
 * and needs no free. `options` may be NULL. */
int tl_scenario_read(const char *path, const struct tl_scenario_options *options,
                     struct tl_scenario *out, struct tl_diag *diag);
/* The same, and notes which keys the file (or a set) names in `given`: a flag for each key of the list
 * in keys.h; for keys of the items of a list, whether the last item names them. */
int tl_scenario_read_given(const char *path, const struct tl_scenario_options *options, bool *given,
                           struct tl_scenario *out, struct tl_diag *diag);
/* The same from memory; `name` stands for the file in messages; files it names are looked for
 * relative to `folder` (NULL: they are refused). */
int tl_scenario_read_text(const char *name, const char *text, size_t length, const char *folder,
                          const struct tl_scenario_options *options, struct tl_scenario *out,
                          struct tl_diag *diag);
/* Where a file that the scenario names lies: it is named relative to the scenario. Caller frees; NULL when
 * there is none or out of memory. */
char *tl_scenario_input_path(const struct tl_scenario *s, enum tl_input which);
/* The name of its copy in inputs/, which points into the scenario; NULL when there is none. */
const char *tl_scenario_input_name(const struct tl_scenario *s, enum tl_input which);
int tl_scenario_copy(struct tl_scenario *to, const struct tl_scenario *from);
void tl_scenario_free(struct tl_scenario *s);

/* Read a scenario with the changes of one of its variants, and after them those of `options`. Messages name
 * the variant. As tl_scenario_read(). */
int tl_scenario_read_variant(const char *path, const struct tl_scenario_options *options,
                             const struct tl_variant *v, struct tl_scenario *out,
                             struct tl_diag *diag);

/* Write the complete scenario, defaults filled in, without its variants, base units, 17 digits: reading it back gives the
 * same doubles bit for bit. Files it names are called "inputs/<base name>".
 * TL_OK, TL_E_IO or TL_E_MEMORY. */
int tl_scenario_write(const struct tl_scenario *s, FILE *f);
/* The same as a text. Caller frees. TL_OK or TL_E_MEMORY. */
int tl_scenario_text(const struct tl_scenario *s, char **text);

#endif
