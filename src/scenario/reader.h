/* Shared by the parts of the reader: table of keys, types of values, the draft they fill. */
#ifndef TL_SCENARIO_READER_H
#define TL_SCENARIO_READER_H

#include "text.h"
#include "towerloop/keys.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"
#include "tree.h"

struct tl_reader;
struct tl_key;

/* How a value is read into the struct it belongs to, and written back. `base` is where the key's
 * offset counts from: the draft, or for an item of a list the item. */
struct tl_value_type {
    const char *name; /* for messages and help: "a quantity", "a list of events" */
    /* Every way to write it. A NUMBER without a range has that of the key; KEYS are the key's own. */
    const struct tl_form *form;
    size_t forms;
    void (*read)(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base);
    /* Adds the value to `out`; false when the key is to be left out. NULL: never written. */
    bool (*write)(struct tl_text *out, const struct tl_key *key, const void *base);
    /* Of a section: whether the scenario has it, and it is to be written. NULL: no section. */
    bool (*stands)(const struct tl_scenario *s);
};

/* The forms of a type, for its row. */
#define TL_FORMS(...)                                                                              \
    .form = (const struct tl_form[]){__VA_ARGS__},                                                 \
    .forms = sizeof((const struct tl_form[]){__VA_ARGS__}) / sizeof(struct tl_form)
/* clang-format off */
#define TL_NUMBER_FORM      {.kind = TL_FORM_NUMBER}
#define TL_WHOLE_FORM       {.kind = TL_FORM_NUMBER, .whole = true}
#define TL_KEYS_FORM        {.kind = TL_FORM_KEYS}
#define TL_WORDS_FORM(list) {.kind = TL_FORM_WORDS, .words = list}
#define TL_ALSO_FORM(list)  {.kind = TL_FORM_WORDS, .words = list, .silent = true}
#define TL_TEXT_FORM(like)  {.kind = TL_FORM_TEXT, .pattern = like}
/* clang-format on */
/* A ration is written alike under feeding and in an event. */
enum {
    TL_RATION_FORM_SHARE,
    TL_RATION_FORM_MASS,
    TL_RATION_FORM_LIST,
    TL_RATION_FORM_TABLE,
    TL_RATION_FORMS
};
extern const struct tl_form tl_ration_forms[TL_RATION_FORMS];

struct tl_key {
    const char *path; /* "tank.volume"; keys of an item of a list: "fish[].count" */
    const struct tl_value_type *type;
    double min, max; /* both allowed; base unit */
    size_t offset;
    const char *help;
    const char *otherwise; /* what holds without it, where that is no default of the draft */
    const char *status;    /* of a parameter */
    enum tl_dim dim;
    int id; /* rows of actions: the event kind or dose; of files: the input */
    enum tl_key_action action;
    bool required;
};

#define TL_MOST_KEYS 420

extern const struct tl_key tl_key_table[];
extern const size_t tl_key_count;

/* The row of `name` in the section `prefix` ("" for the top), or NULL. */
const struct tl_key *tl_key_find(const char *prefix, const char *name);
/* Whether `key` stands directly in the section `prefix`, and its name there. */
bool tl_key_in(const struct tl_key *key, const char *prefix, const char **name);

/* Sides a basin can be given by instead of volume, surface and walls. */
struct tl_shape {
    double length_m, width_m, depth_m, diameter_m;
};

/* The id of a row for a dose that is no mass. */
#define TL_DOSE_BYS          4
#define TL_DOSE_ID(dose, by) ((dose)*TL_DOSE_BYS + (by))
struct tl_month_day { /* month 0: not given */
    int month, day;
};

struct tl_ration_point { /* of a ration by temperature */
    double at_degC, ration_1_d;
};

struct tl_curve_point { /* of a pump */
    double head_m, flow_m3_d;
};

/* What the file says, before the parts are put together. The scenario comes first, so that offsets
 * into the draft are offsets into the scenario, too. */
struct tl_draft {
    struct tl_scenario s;
    struct tl_shape tank, chamber;
    struct tl_month_day water_warmest, air_warmest;
    bool growth_none;
    double group_conversion; /* feed conversion named in a group of fish; 0 = none */
};

struct tl_reader {
    struct tl_diag *diag;
    const char *file;
    const char *folder; /* NULL: files that the scenario names are refused */
    bool cut;           /* reading ended early: what is missing is not known */
    bool out_of_memory;
    struct tl_node *root;
    struct tl_draft *draft;
    struct tl_node *at[TL_MOST_KEYS]; /* where each key stands, NULL: nowhere */
    struct tl_node **event_entry;     /* of each event of the draft, where it stands */
    size_t event_capacity;
    char *deliveries; /* path of that file, or NULL */
};

/* Report a fault in the value, or in the key, of a node. `expected` may be NULL. */
void tl_fault(struct tl_reader *r, struct tl_node *n, const char *expected, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
void tl_fault_key(struct tl_reader *r, struct tl_node *n, const char *expected, const char *format,
                  ...) __attribute__((format(printf, 4, 5)));
/* The same about what the user wrote: `"3.5.6" is not a number`. */
void tl_fault_text(struct tl_reader *r, struct tl_node *n, const char *expected, const char *what);
/* Report that `section` (NULL: the whole file) lacks the key `name`. */
void tl_fault_missing(struct tl_reader *r, struct tl_node *section, const char *name,
                      const char *expected);
void tl_warn(struct tl_reader *r, struct tl_node *n, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Mark a node and those around it as not to be relied on; tl_fault() does. */
void tl_mark_faulty(struct tl_node *n);

/* Where the key with this path stands, or NULL. Keys of list items: those of the last item read. */
struct tl_node *tl_place(const struct tl_reader *r, const char *path);
/* Read every key of a mapping by the rows of the section `prefix`. */
void tl_read_section(struct tl_reader *r, struct tl_node *n, const char *prefix, void *base);
/* The same for an item of a list, whose rows may have been used for an earlier item. */
void tl_read_item(struct tl_reader *r, struct tl_node *n, const char *prefix, void *base);

/* The text of a value; NULL after a fault when it is a list, a mapping or empty. */
const char *tl_value_text(struct tl_reader *r, struct tl_node *n, const char *expected);
/* Which of `words` (closed by NULL) the value is, or -1. */
int tl_word(const struct tl_node *n, const char *const *words);
/* "0.001 to 1000000 m3" */
void tl_range_text(enum tl_dim dim, enum tl_unit_system system, double min, double max, char *text,
                   size_t size);
/* Read a quantity within the key's range. */
bool tl_read_number(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, double *out);
/* A copy of a fish group's or medium's name; false after a fault. */
bool tl_read_name(struct tl_reader *r, struct tl_node *n, char out[TL_NAME_SIZE]);
void tl_write_number(struct tl_text *out, enum tl_dim dim, double value);
/* An item of a list as a flow mapping of the rows under `prefix`. */
void tl_write_item(struct tl_text *out, const char *prefix, const void *base);
/* In double quotes, with what YAML wants escaped. */
void tl_write_quoted(struct tl_text *out, const char *s);
/* The name of the copy of a file, in double quotes. */
void tl_write_input(struct tl_text *out, const struct tl_scenario *s, enum tl_input which);

extern const struct tl_value_type tl_type_section, tl_type_format, tl_type_text, tl_type_date_time,
    tl_type_quantity, tl_type_change, tl_type_side, tl_type_limit, tl_type_integer, tl_type_yes_no,
    tl_type_clocks, tl_type_temperature, tl_type_air_temperature, tl_type_weather, tl_type_heater,
    tl_type_warmest_day, tl_type_file, tl_type_log_file, tl_type_media, tl_type_biofilm,
    tl_type_oxygen, tl_type_chlorine_form, tl_type_growth, tl_type_conversion,
    tl_type_group_conversion, tl_type_group_growth, tl_type_ration, tl_type_fish_list, tl_type_name,
    tl_type_count;
/* pump.c */
extern const struct tl_value_type tl_type_pump_flow, tl_type_pump_curve, tl_type_pipe;
/* variants.c */
extern const struct tl_value_type tl_type_variant_list, tl_type_edits;
/* spread_key.c */
extern const struct tl_value_type tl_type_spread;
/* events.c */
extern const struct tl_value_type tl_type_event_list, tl_type_event_time, tl_type_pump_action,
    tl_type_aerator_action, tl_type_cover_action, tl_type_heater_action, tl_type_quantity_action,
    tl_type_fish_action, tl_type_ration_action, tl_type_dose, tl_type_dose_action,
    tl_type_dose_mass, tl_type_dose_target, tl_type_clean_action, tl_type_hose_action,
    tl_type_rinse, tl_type_running_action, tl_type_power_action, tl_type_dead_action,
    tl_type_medicine, tl_type_dose_solution, tl_type_where;
/* sun.c */
extern const struct tl_value_type tl_type_sun, tl_type_green_water;
/* dosing.c */
extern const struct tl_value_type tl_type_plan_quantity, tl_type_plan_every, tl_type_plan_clock;
/* emptying.c */
extern const struct tl_value_type tl_type_emptied_every, tl_type_emptied_clock;
/* A clock time of a plan. */
void tl_read_clock(struct tl_reader *r, struct tl_node *n, int *second);
void tl_write_clock(struct tl_text *out, int second);

/* Puts the parts together once everything is read, and checks what no single key can show. */
void tl_finish(struct tl_reader *r);
/* The mains switch no heater where there is none. */
void tl_settle_power(struct tl_reader *r);
void tl_check_events(struct tl_reader *r);
/* The flow from the curve, and what cannot be; what fouling does until the pump is cleaned. */
void tl_fill_pump(struct tl_reader *r);
void tl_check_pump(struct tl_reader *r);
/* Medicine: what it does to the filter and takes from the fish, and two of it together. */
void tl_check_medicine(struct tl_reader *r);
/* spread_key.c: what is uncertain, once all else is read. */
void tl_fill_spread(struct tl_reader *r);
/* cold_meals.c: the ration is given where fish hardly digest. */
void tl_check_cold_meals(struct tl_reader *r);
/* Doses that the water does not bear; the temperatures are those that it comes to. */
void tl_check_doses(struct tl_reader *r, double coldest_degC, double warmest_degC);
/* Where the light comes from, and what needs it. */
void tl_fill_sun(struct tl_reader *r);
/* Puts an event of `entry` behind the others. */
void tl_event_push(struct tl_reader *r, struct tl_node *entry, const struct tl_event *e);
/* Reads the draft's temperature file; `n` is where the scenario names it. */
void tl_read_temperatures(struct tl_reader *r, struct tl_node *n);
/* The same with the logs of feed, and of deliveries, which become events. */
void tl_read_feed_log(struct tl_reader *r, struct tl_node *n);
void tl_read_deliveries(struct tl_reader *r, struct tl_node *n);
/* The same of its log of the weather. */
void tl_read_weather(struct tl_reader *r, struct tl_node *n);

void tl_draft_default(struct tl_draft *d);

#endif
