/* A scenario as it was understood: what `check` says back, as text and as JSON. */
#ifndef TL_UNDERSTOOD_H
#define TL_UNDERSTOOD_H

#include <jansson.h>

#include "towerloop/diag.h"
#include "towerloop/heat_course.h"
#include "towerloop/keys.h"
#include "towerloop/pump.h"
#include "towerloop/scenario.h"
#include "tree.h"

#define TL_SHOWN_SIZE 256

struct tl_understood {
    const struct tl_scenario *scenario;
    const bool *given;       /* a flag a key: the file names it */
    struct tl_node *written; /* the complete scenario, in base units */

    double end_d;           /* days since day 0 */
    double turnover_1_h;    /* of the tank's water */
    double media_volume_m3; /* of all trays */
    double media_area_m2;   /* their surface */
    struct tl_duty duty;    /* of all pumps, clean */
    double one_less_m3_d;   /* what is left of the flow when one of them fails */
    double least_flow_m3_d; /* of the pumps while they run, by plan and fouling */
    double last_flow_m3_d;  /* of the pumps at the end, by plan and fouling */
    double load_m_h;        /* flow across the tower per plan area */
    /* Of a tower that is trickled over, at the temperature of the start (20 degC outdoors); NAN otherwise. */
    double wetted;         /* share of the media under running water */
    double wets_well_m_h;  /* load at which such media count as well wetted */
    double voids_filled;   /* share of the voids that running water takes up */
    double fills_half_m_h; /* load from which on air has no way left */
    double fish;           /* at the start, all groups */
    double fish_g;
    double feed_g_d; /* at the start; NAN when it follows the temperature */
    bool outdoors;   /* the temperature follows from the weather; then: */
    struct tl_heat_summary heat;

    /* Hears label ("": it goes on) and text of each line, instead of the terminal; may be NULL. */
    void (*hear)(void *arg, const char *label,
                 const char *text); /* NULL: there was no memory for it */
    void *hear_arg;
};

/* Release with tl_understood_free(). TL_OK, TL_E_MEMORY, or a status of tl_model_build(). */
int tl_understood_make(const struct tl_scenario *scenario, const bool *given,
                       struct tl_understood *out);
void tl_understood_free(struct tl_understood *u);

/* What the complete scenario has for a key, in base units; NULL where it has none. */
const char *tl_understood_value(const struct tl_understood *u, const char *path);
/* Such a text for people: "12 m3" in the units they expect, others as they are. */
void tl_understood_shown(size_t key, const char *value, enum tl_unit_system units,
                         char shown[TL_SHOWN_SIZE]);
/* Whether the scenario was left to decide on a key by itself, and the key matters to it. */
bool tl_understood_defaulted(const struct tl_understood *u, size_t key);
/* Whether a limit or a parameter differs from its default. */
bool tl_understood_differs(const struct tl_understood *u, size_t key);
/* Whether a key stands directly in a section. */
bool tl_understood_in(const struct tl_key_info *key, const char *section);

/* Say what the scenario asks for: to `hear`, or printed in lines of at most 80 columns. */
void tl_understood_tell(const struct tl_understood *u, enum tl_unit_system units);
/* The same, then what the file left to the program. */
void tl_understood_print(const struct tl_understood *u, enum tl_unit_system units);
/* `u` NULL: there were faults. NULL when out of memory. */
json_t *tl_understood_json(const struct tl_understood *u, const char *file,
                           const struct tl_diag *diag);

#endif
