/* The list of events: each entry has a time, perhaps a length (`for:`), and one or more actions. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "reader.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"

#define EVENT       "events[]"
#define AT_EXPECTED "day 20, day 20 14:00 or day 20.5; day 0 is the date of the start"

void tl_event_push(struct tl_reader *r, struct tl_node *entry, const struct tl_event *e)
{
    struct tl_setup *s = &r->draft->s.setup;
    if (s->events == r->event_capacity) {
        size_t capacity = r->event_capacity ? 2 * r->event_capacity : 16;
        struct tl_event *event = realloc(s->event, capacity * sizeof *event);
        if (event)
            s->event = event;
        struct tl_node **grown = realloc(r->event_entry, capacity * sizeof *grown);
        if (grown)
            r->event_entry = grown;
        if (!event || !grown) {
            r->out_of_memory = true;
            return;
        }
        r->event_capacity = capacity;
    }
    r->event_entry[s->events] = entry;
    s->event[s->events++] = *e;
}

/* A new event with the content of `like`; its time and entry are set once the whole entry is read. */
static void push(struct tl_reader *r, const struct tl_event *like)
{
    tl_event_push(r, NULL, like);
}

static void push_value(struct tl_reader *r, int kind, double value)
{
    push(r, &(struct tl_event){.kind = (enum tl_event_kind)kind, .value = value});
}

/* --- times ----------------------------------------------------------------------------------- */

#define EVENT_TIME_PATTERN                                                                         \
    "^day (?:[0-9]+ " TL_CLOCK_SHAPE "|(?:[0-9]+\\.?[0-9]*|\\.[0-9]+)(?:[eE][+-]?[0-9]+)?)$"

/* "day 20", "day 20 14:00", "day 20.5" as days since day 0. */
static bool parse_event_time(const char *text, double *out)
{
    double day;
    int second = 0;
    if (strncmp(text, "day ", 4) != 0)
        return false;
    text += 4;
    size_t used = tl_parse_number(text, &day);
    if (used == 0 || text[0] == '+' || text[0] == '-' || !isfinite(day))
        return false;
    text += used;
    if (*text == ' ') {
        if (day != floor(day) || !tl_clock_parse(text + 1, &second))
            return false;
    } else if (*text != '\0') {
        return false;
    }
    *out = day + (double)second / TL_SECONDS_A_DAY;
    return true;
}

static void event_time_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                            void *base)
{
    double *at = &((struct tl_event *)base)->at_d;
    (void)key;
    const char *text = tl_value_text(r, n, AT_EXPECTED);
    if (text && !parse_event_time(text, at))
        tl_fault_text(r, n, AT_EXPECTED, "is not a time of the run");
}
static bool event_time_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    double at = ((const struct tl_event *)base)->at_d;
    double day = floor(at);
    int second = (int)round((at - day) * TL_SECONDS_A_DAY);
    (void)key;
    if (second < TL_SECONDS_A_DAY && day + (double)second / TL_SECONDS_A_DAY == at)
        tl_text_addf(out, "day %.0f %02d:%02d:%02d", day, second / 3600, second / 60 % 60,
                     second % 60);
    else
        tl_text_addf(out, "day %.17g", at);
    return true;
}
const struct tl_value_type tl_type_event_time = {
    .name = "a time",
    .read = event_time_read,
    .write = event_time_write,
    TL_FORMS(TL_TEXT_FORM(EVENT_TIME_PATTERN)),
};

/* --- actions --------------------------------------------------------------------------------- */

static void quantity_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                 void *base)
{
    double value;
    (void)base;
    if (tl_read_number(r, n, key, &value))
        push_value(r, key->id, value);
}
const struct tl_value_type tl_type_quantity_action = {
    .name = "a quantity",
    .read = quantity_action_read,
    TL_FORMS(TL_NUMBER_FORM),
};

static const char *const off_on[] = {"off", "on", NULL};

static void pump_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    const int word = tl_word(n, off_on);
    if (word >= 0)
        push_value(r, word == 0 ? TL_EVENT_PUMP_FLOW : TL_EVENT_PUMP_ON, 0);
    else if (n->kind == TL_NODE_MAPPING && n->first)
        tl_read_section(r, n, key->path, base);
    else
        tl_fault(r, n, key->type->name, "not an action of the pump");
}
const struct tl_value_type tl_type_pump_action = {
    .name = "off, on, or {flow: 600 gal/h, to tower: 50 %}",
    .read = pump_action_read,
    TL_FORMS(TL_WORDS_FORM(off_on), {.kind = TL_FORM_KEYS, .filled = true}),
};

static void aerator_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                void *base)
{
    const int word = tl_word(n, off_on);
    if (word >= 0)
        push_value(r, word == 0 ? TL_EVENT_AERATOR : TL_EVENT_AERATOR_ON, 0);
    else
        quantity_action_read(r, n, key, base);
}
const struct tl_value_type tl_type_aerator_action = {
    .name = "off, on or a quantity",
    .read = aerator_action_read,
    TL_FORMS(TL_WORDS_FORM(off_on), TL_NUMBER_FORM),
};

static void cover_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                              void *base)
{
    const int word = tl_word(n, off_on);
    if (word >= 0)
        push_value(r, word == 0 ? TL_EVENT_COVER : TL_EVENT_COVER_ON, 0);
    else
        quantity_action_read(r, n, key, base);
}
const struct tl_value_type tl_type_cover_action = {
    .name = "off, on or a share",
    .read = cover_action_read,
    TL_FORMS(TL_WORDS_FORM(off_on), TL_NUMBER_FORM),
};

static void heater_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                               void *base)
{
    const int word = tl_word(n, off_on);
    (void)base;
    if (word >= 0)
        push_value(r, word == 0 ? TL_EVENT_HEATER_OFF : TL_EVENT_HEATER_ON, 0);
    else
        tl_fault(r, n, key->type->name, "not an action of the heater");
}
const struct tl_value_type tl_type_heater_action = {
    .name = "off or on",
    .read = heater_action_read,
    TL_FORMS(TL_WORDS_FORM(off_on)),
};

/* The mains: all that it drives stops and starts together. */
static void power_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                              void *base)
{
    static const enum tl_event_kind driven[][3] = {
        {TL_EVENT_PUMP_FLOW, TL_EVENT_AERATOR, TL_EVENT_HEATER_OFF},
        {TL_EVENT_PUMP_ON, TL_EVENT_AERATOR_ON, TL_EVENT_HEATER_ON}};
    const int word = tl_word(n, off_on);
    (void)base;
    for (int i = 0; i < 3 && word >= 0; i++)
        push(r, &(struct tl_event){.kind = driven[word][i], .of_power = true});
    if (word < 0)
        tl_fault(r, n, key->type->name, "not an action of the power");
}
const struct tl_value_type tl_type_power_action = {
    .name = "off or on",
    .read = power_action_read,
    TL_FORMS(TL_WORDS_FORM(off_on)),
};

static void fish_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_event e = {.kind = (enum tl_event_kind)key->id};
    (void)base;
    tl_read_section(r, n, key->path, &e.fish);
    push(r, &e);
}
const struct tl_value_type tl_type_fish_action = {
    .name = "a group of fish",
    .read = fish_action_read,
    TL_FORMS(TL_KEYS_FORM),
};

static void dead_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_event e = {.kind = TL_EVENT_DEAD_FISH};
    (void)base;
    tl_read_section(r, n, key->path, &e);
    push(r, &e);
}
const struct tl_value_type tl_type_dead_action = {
    .name = "some fish of a group",
    .read = dead_action_read,
    TL_FORMS(TL_KEYS_FORM),
};

static void ration_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                               void *base)
{
    struct tl_event e = {.kind = TL_EVENT_RATION};
    struct tl_key ration = *key;
    ration.offset = offsetof(struct tl_event, ration);
    (void)base;
    size_t errors = r->diag->errors;
    tl_type_ration.read(r, n, &ration, &e);
    if (r->diag->errors == errors && !r->out_of_memory)
        push(r, &e);
    else
        tl_table_free(&e.ration.table);
}
const struct tl_value_type tl_type_ration_action = {
    .name = "a ration",
    .read = ration_action_read,
    .form = tl_ration_forms,
    .forms = TL_RATION_FORMS,
};

static void dose_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    if (n->kind == TL_NODE_MAPPING && n->first)
        tl_read_section(r, n, key->path, base);
    else
        tl_fault(r, n,
                 "{baking soda: 500 g}, salt, ammonium chloride, sodium thiosulfate or a medicine",
                 "not a dose");
}
const struct tl_value_type tl_type_dose = {
    .name = "keys",
    .read = dose_read,
    TL_FORMS({.kind = TL_FORM_KEYS, .filled = true}),
};

static void dose_mass_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                           void *base)
{
    struct tl_event e = {.kind = TL_EVENT_DOSE, .dose = (enum tl_dose)key->id};
    (void)base;
    if (tl_read_number(r, n, key, &e.value))
        push(r, &e);
}
const struct tl_value_type tl_type_dose_mass = {
    .name = "a quantity",
    .read = dose_mass_read,
    TL_FORMS(TL_NUMBER_FORM),
};

/* {}: the mass or the targets that can stand there. */
static void say_amounts(struct tl_reader *r, struct tl_node *n, const struct tl_key *key)
{
    struct tl_text expected = {0};
    tl_text_addf(&expected, "%s in %s, or one of ", tl_dim_name(key->dim), tl_dim_units(key->dim));
    int found = 0;
    for (size_t i = 0; i < tl_key_count; i++) {
        const char *name;
        if (tl_key_in(&tl_key_table[i], key->path, &name))
            tl_text_addf(&expected, "%s{%s: ...}", found++ > 0 ? ", " : "", name);
    }
    tl_fault(r, n, tl_text_string(&expected), "no amount is given");
    tl_text_free(&expected);
}

/* a mass, or what is lacking */
static void dose_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    if (n->kind == TL_NODE_MAPPING && !n->first) {
        say_amounts(r, n, key);
        return;
    }
    if (n->kind != TL_NODE_MAPPING) {
        dose_mass_read(r, n, key, base);
        return;
    }
    tl_read_section(r, n, key->path, base);
    if (n->first != n->last)
        tl_fault(r, n, "one of them", "two amounts for one dose");
}
const struct tl_value_type tl_type_dose_action = {
    .name = "a quantity, or what it is to reach",
    .read = dose_action_read,
    TL_FORMS(TL_NUMBER_FORM, {.kind = TL_FORM_KEYS, .filled = true}),
};

/* A medicine is sold in more than one strength: it has to be said what is measured. */
static void medicine_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                          void *base)
{
    if (n->kind == TL_NODE_MAPPING && n->first) {
        dose_action_read(r, n, key, base);
        return;
    }
    struct tl_text expected = {0};
    int found = 0;
    for (size_t i = 0; i < tl_key_count; i++) {
        const struct tl_key *form = &tl_key_table[i];
        const char *name;
        if (tl_key_in(form, key->path, &name))
            tl_text_addf(&expected, "%s{%s: ...} (%s)", found++ > 0 ? ", " : "one of ", name,
                         form->help);
    }
    tl_fault(r, n, tl_text_string(&expected), "it is not said what is measured");
    tl_text_free(&expected);
}
const struct tl_value_type tl_type_medicine = {
    .name = "keys",
    .read = medicine_read,
    TL_FORMS({.kind = TL_FORM_KEYS, .filled = true}),
};

static void dose_solution_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                               void *base)
{
    struct tl_event e = {.kind = TL_EVENT_DOSE, .dose = (enum tl_dose)key->id};
    (void)base;
    if (!tl_read_number(r, n, key, &e.value))
        return;
    e.value *= TL_FORMALDEHYDE_G_PER_M3_SOLUTION;
    push(r, &e);
}
const struct tl_value_type tl_type_dose_solution = {
    .name = "a quantity",
    .read = dose_solution_read,
    TL_FORMS(TL_NUMBER_FORM),
};

static void dose_target_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_event e = {.kind = TL_EVENT_DOSE,
                         .dose = (enum tl_dose)(key->id / TL_DOSE_BYS),
                         .by = (enum tl_dose_by)(key->id % TL_DOSE_BYS)};
    (void)base;
    if (tl_read_number(r, n, key, &e.value))
        push(r, &e);
}
const struct tl_value_type tl_type_dose_target = {
    .name = "a quantity",
    .read = dose_target_read,
    TL_FORMS(TL_NUMBER_FORM),
};

static void running_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                void *base)
{
    double value;
    (void)base;
    if (!tl_read_number(r, n, key, &value))
        return;
    if (value == floor(value))
        push_value(r, key->id, value);
    else
        tl_fault_text(r, n, "a whole number", "is not a whole number");
}
const struct tl_value_type tl_type_running_action = {
    .name = "a whole number",
    .read = running_action_read,
    TL_FORMS(TL_WHOLE_FORM),
};

#define TRAY "tray"
enum { CLEAN_CHAMBER, CLEAN_TRAYS, CLEAN_PUMP };
static const char *const cleaned[] = {
    [CLEAN_CHAMBER] = "settling chamber", [CLEAN_TRAYS] = "all trays", [CLEAN_PUMP] = "pump", NULL};
static const enum tl_event_kind cleaning[] = {[CLEAN_CHAMBER] = TL_EVENT_CLEAN_CHAMBER,
                                              [CLEAN_TRAYS] = TL_EVENT_CLEAN_TRAYS,
                                              [CLEAN_PUMP] = TL_EVENT_CLEAN_PUMP};

/* "tray 3" */
static bool parse_tray(const char *text, const struct tl_key *key, int *out)
{
    const size_t lead = strlen(TRAY " ");
    double tray;
    if (strncmp(text, TRAY " ", lead) != 0 || strlen(text) == lead ||
        tl_parse_number(text + lead, &tray) != strlen(text + lead) || !(tray >= key->min) ||
        !(tray <= key->max) || tray != floor(tray))
        return false;
    *out = (int)tray;
    return true;
}

static void clean_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                              void *base)
{
    struct tl_event e = {.kind = TL_EVENT_CLEAN_TRAY};
    (void)base;
    const char *text = tl_value_text(r, n, key->type->name);
    if (!text)
        return;
    const int word = tl_word(n, cleaned);
    if (word >= 0)
        e.kind = cleaning[word];
    if (word >= 0 || parse_tray(text, key, &e.tray))
        push(r, &e);
    else
        tl_fault_text(r, n, key->type->name, "cannot be cleaned");
}
const struct tl_value_type tl_type_clean_action = {
    .name = "settling chamber, tray 1 (or another number), all trays or pump",
    .read = clean_action_read,
    TL_FORMS(TL_WORDS_FORM(cleaned), {.kind = TL_FORM_NUMBER, .lead = TRAY, .whole = true}),
};

static const char *const all_trays[] = {"all trays", NULL};
static void hose_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_event e = {.kind = TL_EVENT_HOSE_TRAY};
    (void)base;
    const char *text = tl_value_text(r, n, key->type->name);
    if (!text)
        return;
    if (tl_word(n, all_trays) == 0)
        e.kind = TL_EVENT_HOSE_TRAYS;
    if (e.kind == TL_EVENT_HOSE_TRAYS || parse_tray(text, key, &e.tray))
        push(r, &e);
    else
        tl_fault_text(r, n, key->type->name, "cannot be hosed off");
}
const struct tl_value_type tl_type_hose_action = {
    .name = "tray 1 (or another number) or all trays",
    .read = hose_action_read,
    TL_FORMS(TL_WORDS_FORM(all_trays), {.kind = TL_FORM_NUMBER, .lead = TRAY, .whole = true}),
};

static const char *const places[] = {
    [TL_WHERE_ALL] = "all", [TL_WHERE_TOWER] = "tower", [TL_WHERE_WALLS] = "walls", NULL};
static void where_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    if (!tl_value_text(r, n, key->type->name))
        return;
    const int word = tl_word(n, places);
    if (word >= 0)
        ((struct tl_event *)base)->where = (enum tl_where)word;
    else
        tl_fault_text(r, n, key->type->name, "is not known here");
}
const struct tl_value_type tl_type_where = {
    .name = "all, tower or walls",
    .read = where_read,
    TL_FORMS(TL_WORDS_FORM(places)),
};

static const char *const rinsed_in[] = {"pond water", "tap water", NULL};
static void rinse_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    if (!tl_value_text(r, n, key->type->name))
        return;
    const int word = tl_word(n, rinsed_in);
    if (word >= 0)
        ((struct tl_event *)base)->tap_water = word == 1;
    else
        tl_fault_text(r, n, key->type->name, "is not known here");
}
const struct tl_value_type tl_type_rinse = {
    .name = "pond water or tap water",
    .read = rinse_read,
    TL_FORMS(TL_WORDS_FORM(rinsed_in)),
};

/* --- the list -------------------------------------------------------------------------------- */

/* What an event changes until further notice: only that can be put back by `for:`. */
static const char *restorable(enum tl_event_kind kind)
{
    switch (kind) {
    case TL_EVENT_PUMP_FLOW:
    case TL_EVENT_PUMP_ON:
        return "pump";
    case TL_EVENT_PUMPS_RUNNING:
        return "number of pumps";
    case TL_EVENT_TO_TOWER:
        return "share to the tower";
    case TL_EVENT_AERATOR:
    case TL_EVENT_AERATOR_ON:
        return "aerator";
    case TL_EVENT_COVER:
    case TL_EVENT_COVER_ON:
        return "cover";
    case TL_EVENT_HEATER_OFF:
    case TL_EVENT_HEATER_ON:
        return "heater";
    case TL_EVENT_RATION:
        return "ration";
    default:
        return NULL;
    }
}

/* The names of the actions, "pump, flow or ration": those that last, or all of them. */
static void add_actions(struct tl_text *t, enum tl_key_action least)
{
    const char *name[TL_MOST_KEYS];
    size_t names = 0;
    for (size_t i = 0; i < tl_key_count; i++)
        if (tl_key_table[i].action >= least && tl_key_in(&tl_key_table[i], EVENT, &name[names]))
            names++;
    for (size_t i = 0; i < names; i++)
        tl_text_addf(t, "%s%s", i == 0 ? "" : i + 1 < names ? ", " : " or ", name[i]);
}

/* How trays are rinsed holds for all that the entry cleans. */
static void take_rinse(struct tl_reader *r, struct tl_node *n, const struct tl_event *entry,
                       size_t first)
{
    struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *rinsed = tl_place(r, "events[].rinsed in");
    struct tl_node *contact = tl_place(r, "events[].contact");
    bool trays = false;
    for (size_t i = first; i < s->events; i++) {
        struct tl_event *e = &s->event[i];
        if (e->kind != TL_EVENT_CLEAN_TRAY && e->kind != TL_EVENT_CLEAN_TRAYS)
            continue;
        trays = true;
        e->tap_water = entry->tap_water;
        if (e->tap_water)
            e->contact_d = contact ? entry->contact_d : TL_RINSE_CONTACT_D;
    }
    if (rinsed && !trays && !n->faulty)
        tl_fault(r, rinsed, "rinsed in: with clean: tray 1 or all trays",
                 "no media are rinsed here");
    else if (contact && !entry->tap_water && !n->faulty)
        tl_fault(r, contact, "contact: with rinsed in: tap water",
                 "only the chlorine of tap water takes its time");
}

/* Where film is knocked out. */
static void take_where(struct tl_reader *r, struct tl_node *n, const struct tl_event *entry,
                       size_t first)
{
    struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *where = tl_place(r, "events[].where");
    bool any = false;
    for (size_t i = first; i < s->events; i++) {
        if (s->event[i].kind != TL_EVENT_KNOCK_OUT)
            continue;
        any = true;
        s->event[i].where = entry->where;
    }
    if (where && !any && !n->faulty)
        tl_fault(r, where, "where: with knock out: 40 %", "no film is knocked out here");
}

static void read_entry(struct tl_reader *r, struct tl_node *n)
{
    struct tl_setup *s = &r->draft->s.setup;
    struct tl_event entry = {0};
    size_t first = s->events;
    size_t errors = r->diag->errors;
    tl_read_item(r, n, EVENT, &entry);
    if (s->events == first && r->diag->errors == errors && !r->cut) {
        struct tl_text expected = {0};
        add_actions(&expected, TL_KEY_ACTION);
        tl_fault(r, n, expected.data, "an event without an action");
        tl_text_free(&expected);
    }

    for (size_t i = first; i < s->events; i++) {
        const char *what = restorable(s->event[i].kind);
        for (size_t j = first; j < i && what; j++) {
            const char *other = restorable(s->event[j].kind);
            if (other && strcmp(what, other) == 0)
                tl_fault(r, n, "one change of it at a time", "the %s is changed twice", what);
        }
    }

    take_rinse(r, n, &entry, first);
    take_where(r, n, &entry, first);
    struct tl_node *lasts = tl_place(r, "events[].for");
    bool told = false;
    for (size_t i = first; i < s->events; i++) {
        s->event[i].at_d = entry.at_d;
        if (s->event[i].kind != TL_EVENT_DEAD_FISH) /* which has its own */
            s->event[i].for_d = entry.for_d;
        s->event[i].line = n->line;
        r->event_entry[i] = n;
        if (lasts && !restorable(s->event[i].kind) && !told) {
            told = true;
            struct tl_text expected = {0};
            tl_text_add(&expected, "for: with ");
            add_actions(&expected, TL_KEY_LASTING_ACTION);
            tl_fault(r, lasts, expected.data, "this event has nothing to put back afterwards");
            tl_text_free(&expected);
        }
    }
}

#define MOST_EVENTS 10000

static void event_list_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                            void *base)
{
    (void)key;
    (void)base;
    if (n->kind != TL_NODE_LIST) {
        tl_fault(r, n, "a list of events, as - {at: day 20 14:00, pump: off}",
                 "this is not a list");
        return;
    }
    const size_t count = tl_node_count(n);
    if (count > MOST_EVENTS) {
        tl_fault(r, n, "at most 10000 events", "%zu events", count);
        return;
    }
    for (struct tl_node *c = n->first; c && !r->out_of_memory; c = c->next)
        read_entry(r, c);
}

static void write_target(struct tl_text *out, const struct tl_event *e)
{
    if (e->by == TL_DOSE_TO_RATIO) {
        tl_text_add(out, "{to chloride ratio: ");
        tl_write_number(out, TL_DIM_NUMBER, e->value);
    } else if (tl_dose_is_medicine(e->dose)) {
        tl_text_add(out, "{to content: ");
        tl_write_number(out, TL_DIM_CONC, e->value);
    } else if (e->dose == TL_DOSE_SALT) {
        tl_text_add(out, "{to chloride: ");
        tl_write_number(out, TL_DIM_CONC, e->value);
    } else {
        tl_text_add(out, "{to alkalinity: ");
        tl_write_number(out, TL_DIM_ALKALINITY, e->value);
    }
    tl_text_add(out, "}");
}

static void write_dead(struct tl_text *out, const struct tl_event *e)
{
    static const char within[] = "events[].dead fish";
    const struct tl_key *name = tl_key_find(within, "name");
    const struct tl_key *count = tl_key_find(within, "count");
    tl_text_add(out, "dead fish: {name: ");
    name->type->write(out, name, e);
    tl_text_add(out, ", count: ");
    count->type->write(out, count, e);
    if (e->for_d > 0) {
        tl_text_add(out, ", left: ");
        tl_write_number(out, TL_DIM_TIME, e->for_d);
    }
    tl_text_add(out, "}");
}

static void write_action(struct tl_text *out, const struct tl_event *e)
{
    static const struct tl_key ration = {.offset = offsetof(struct tl_event, ration)};
    const bool medicine = e->kind == TL_EVENT_DOSE && tl_dose_is_medicine(e->dose);
    static const char *const doses[TL_NDOSE] = {[TL_DOSE_BAKING_SODA] = "baking soda",
                                                [TL_DOSE_SALT] = "salt",
                                                [TL_DOSE_AMMONIUM_CHLORIDE] = "ammonium chloride",
                                                [TL_DOSE_THIOSULFATE] = "sodium thiosulfate",
                                                [TL_DOSE_FORMALDEHYDE] = "formalin",
                                                [TL_DOSE_PEROXIDE] = "hydrogen peroxide",
                                                [TL_DOSE_CHLORAMINE_T] = "chloramine-T"};
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
        tl_text_add(out, "flow: ");
        tl_write_number(out, TL_DIM_FLOW, e->value);
        break;
    case TL_EVENT_PUMP_ON:
        tl_text_add(out, "pump: on");
        break;
    case TL_EVENT_PUMPS_RUNNING:
        tl_text_addf(out, "pumps running: %.0f", e->value);
        break;
    case TL_EVENT_TO_TOWER:
        tl_text_add(out, "to tower: ");
        tl_write_number(out, TL_DIM_FRACTION, e->value);
        break;
    case TL_EVENT_AERATOR:
        tl_text_add(out, "aerator: ");
        tl_write_number(out, TL_DIM_MASS_FLOW, e->value);
        break;
    case TL_EVENT_AERATOR_ON:
        tl_text_add(out, "aerator: on");
        break;
    case TL_EVENT_COVER:
        tl_text_add(out, "cover: ");
        tl_write_number(out, TL_DIM_FRACTION, e->value);
        break;
    case TL_EVENT_COVER_ON:
        tl_text_add(out, "cover: on");
        break;
    case TL_EVENT_HEATER_OFF:
        tl_text_add(out, "heater: off");
        break;
    case TL_EVENT_HEATER_ON:
        tl_text_add(out, "heater: on");
        break;
    case TL_EVENT_ADD_FISH:
        tl_text_add(out, "add fish: ");
        tl_write_item(out, "events[].add fish", &e->fish);
        break;
    case TL_EVENT_REMOVE_FISH:
        tl_text_add(out, "remove fish: ");
        tl_write_item(out, "events[].remove fish", &e->fish);
        break;
    case TL_EVENT_RATION:
        tl_text_add(out, "ration: ");
        tl_type_ration.write(out, &ration, e);
        break;
    case TL_EVENT_WATER_CHANGE:
        tl_text_add(out, "change water: ");
        tl_write_number(out, TL_DIM_FRACTION, e->value);
        break;
    case TL_EVENT_DOSE:
        tl_text_addf(out, "dose: {%s: ", doses[e->dose]);
        tl_text_add(out, medicine && e->by == TL_DOSE_MASS ? "{pure: " : "");
        if (e->by == TL_DOSE_MASS)
            tl_write_number(out, TL_DIM_MASS, e->value);
        else
            write_target(out, e);
        tl_text_add(out, medicine && e->by == TL_DOSE_MASS ? "}}" : "}");
        break;
    case TL_EVENT_CLEAN_CHAMBER:
        tl_text_addf(out, "clean: %s", cleaned[CLEAN_CHAMBER]);
        break;
    case TL_EVENT_CLEAN_PUMP:
        tl_text_addf(out, "clean: %s", cleaned[CLEAN_PUMP]);
        break;
    case TL_EVENT_CLEAN_TRAY:
        tl_text_addf(out, "clean: " TRAY " %d", e->tray);
        break;
    case TL_EVENT_HOSE_TRAY:
        tl_text_addf(out, "hose: " TRAY " %d", e->tray);
        break;
    case TL_EVENT_HOSE_TRAYS:
        tl_text_addf(out, "hose: %s", all_trays[0]);
        break;
    case TL_EVENT_KNOCK_OUT:
        tl_text_add(out, "knock out: ");
        tl_write_number(out, TL_DIM_FRACTION, e->value);
        tl_text_addf(out, ", where: %s", places[e->where]);
        break;
    case TL_EVENT_DEAD_FISH:
        write_dead(out, e);
        break;
    case TL_EVENT_CLEAN_TRAYS:
    case TL_NEVENT:
        tl_text_addf(out, "clean: %s", cleaned[CLEAN_TRAYS]);
        break;
    }
}

static bool event_list_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_setup *s = (const struct tl_setup *)((const char *)base + key->offset);
    bool some = false;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->logged) /* its file goes along */
            continue;
        some = true;
        tl_text_add(out, "\n  - {at: ");
        event_time_write(out, NULL, e);
        tl_text_add(out, ", ");
        write_action(out, e);
        if (e->for_d > 0 && e->kind != TL_EVENT_DEAD_FISH) {
            tl_text_add(out, ", for: ");
            tl_write_number(out, TL_DIM_TIME, e->for_d);
        }
        if (e->tap_water) {
            tl_text_addf(out, ", rinsed in: %s, contact: ", rinsed_in[1]);
            tl_write_number(out, TL_DIM_TIME, e->contact_d);
        }
        tl_text_add(out, "}");
    }
    return some;
}
const struct tl_value_type tl_type_event_list = {
    .name = "a list of events",
    .read = event_list_read,
    .write = event_list_write,
    TL_FORMS({.kind = TL_FORM_LIST, .below = EVENT}),
};

void tl_settle_power(struct tl_reader *r)
{
    struct tl_setup *s = &r->draft->s.setup;
    size_t kept = 0;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        const bool heater = e->kind == TL_EVENT_HEATER_OFF || e->kind == TL_EVENT_HEATER_ON;
        if (heater && e->of_power && !(s->heater.power_w > 0))
            continue;
        r->event_entry[kept] = r->event_entry[i];
        s->event[kept++] = *e;
    }
    s->events = kept;
}

/* --- checks over the whole list -------------------------------------------------------------- */

static int by_time(const void *a, const void *b)
{
    const struct tl_event *x = *(const struct tl_event *const *)a;
    const struct tl_event *y = *(const struct tl_event *const *)b;
    if (x->at_d != y->at_d)
        return x->at_d < y->at_d ? -1 : 1;
    return x < y ? -1 : x > y;
}

/* The entry an event of the draft stands in. */
static struct tl_node *entry_of(const struct tl_reader *r, const struct tl_event *e)
{
    return r->event_entry[e - r->draft->s.setup.event];
}

struct event_name {
    char text[40];
};

/* By its line, or by its number where it has none, being that of --set. */
static struct event_name name_of(const struct tl_reader *r, const struct tl_event *e)
{
    struct event_name name;
    const struct tl_node *entry = entry_of(r, e);
    size_t before = 0; /* those that cannot be read are no events, but count */
    for (const struct tl_node *n = entry->parent->first; n != entry; n = n->next)
        before++;
    if (e->line > 0)
        tl_format(name.text, sizeof name.text, "the event on line %u", e->line);
    else
        tl_format(name.text, sizeof name.text, "events[%zu]", before);
    return name;
}

static void check_overlap(struct tl_reader *r, const struct tl_event *const *sorted, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char *what = restorable(sorted[i]->kind);
        for (size_t j = i + 1; j < n && what && sorted[i]->for_d > 0; j++) {
            if (sorted[j]->at_d >= sorted[i]->at_d + sorted[i]->for_d)
                break;
            const char *other = restorable(sorted[j]->kind);
            if (other && strcmp(what, other) == 0)
                tl_fault(r, entry_of(r, sorted[j]), "one change of it at a time",
                         "the %s is changed within the `for:` of %s", what,
                         name_of(r, sorted[i]).text);
        }
    }
}

static bool takes_fish(const struct tl_event *e)
{
    return e->kind == TL_EVENT_REMOVE_FISH || e->kind == TL_EVENT_DEAD_FISH;
}

/* How many fish of a group there are just before event `upto`. */
static double fish_before(const struct tl_setup *s, const struct tl_event *const *sorted,
                          size_t upto, const char *name, bool *known)
{
    double count = 0;
    *known = false;
    for (size_t i = 0; i < s->fish_groups; i++) {
        if (strcmp(s->fish[i].name, name) == 0) {
            count += s->fish[i].count;
            *known = true;
        }
    }
    for (size_t i = 0; i < upto; i++) {
        const struct tl_event *e = sorted[i];
        if (strcmp(e->fish.name, name) != 0)
            continue;
        count += e->kind == TL_EVENT_ADD_FISH ? e->fish.count : -e->fish.count;
        *known = *known || e->kind == TL_EVENT_ADD_FISH;
    }
    return count;
}

/* A fault in an event: where the scenario has it, or the file of deliveries. */
static void event_fault(struct tl_reader *r, const struct tl_event *e, const char *expected,
                        const char *format, ...) __attribute__((format(printf, 4, 5)));

static void event_fault(struct tl_reader *r, const struct tl_event *e, const char *expected,
                        const char *format, ...)
{
    struct tl_text what = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&what, format, args);
    va_end(args);
    if (e->logged) {
        tl_diag_add(r->diag, TL_DIAG_ERROR, r->deliveries, e->line, 1, NULL, tl_text_string(&what),
                    expected);
        tl_mark_faulty(entry_of(r, e));
    } else {
        tl_fault(r, entry_of(r, e), expected, "%s", tl_text_string(&what));
    }
    tl_text_free(&what);
}

void tl_check_events(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    if (s->events == 0)
        return;
    const struct tl_event **sorted = malloc(s->events * sizeof *sorted);
    if (!sorted) {
        r->out_of_memory = true;
        return;
    }
    const struct tl_node *start = tl_place(r, "start");
    const struct tl_node *length = tl_place(r, "length");
    const bool times = length && !length->faulty && !(start && start->faulty);
    const double end = s->start_d + s->length_d;
    size_t n = 0;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (entry_of(r, e)->faulty)
            continue;
        sorted[n++] = e;
        if (times && e->at_d < s->start_d)
            tl_fault(r, entry_of(r, e), "a time within the run", "before the start of the run");
        else if (times && e->at_d > end + 0.5 / TL_SECONDS_A_DAY)
            tl_fault(r, entry_of(r, e), "a time within the run",
                     "beyond the end of the run, day %.6g", end);
        if ((e->kind == TL_EVENT_HEATER_OFF || e->kind == TL_EVENT_HEATER_ON) &&
            !(s->heater.power_w > 0 && s->temperature.kind == TL_TEMPERATURE_WEATHER))
            tl_warn(r, entry_of(r, e), "has no effect: there is no heater%s",
                    s->heater.power_w > 0 ? " without weather:" : " with a power");
        if (e->kind == TL_EVENT_COVER_ON && !(s->cover > 0))
            tl_warn(r, entry_of(r, e), "has no effect: there is no tank.cover to put on again");
        if (e->kind == TL_EVENT_PUMPS_RUNNING && e->value > s->pump.count)
            tl_fault(r, entry_of(r, e),
                     "no more than pump.count; to compare numbers of pumps, give this event only "
                     "to the variants that have so many",
                     "%.0f pumps cannot run, there %s %d", e->value,
                     s->pump.count == 1 ? "is" : "are", s->pump.count);
        if ((e->kind == TL_EVENT_CLEAN_TRAY || e->kind == TL_EVENT_HOSE_TRAY) &&
            e->tray > s->tower.trays)
            tl_fault(r, entry_of(r, e), "a tray of the tower",
                     "there is no tray %d, the tower has %d", e->tray, s->tower.trays);
    }
    qsort(sorted, n, sizeof *sorted, by_time);
    check_overlap(r, sorted, n);
    for (size_t i = 0; i < n; i++) {
        bool known;
        if (!takes_fish(sorted[i]))
            continue;
        double count = fish_before(s, sorted, i, sorted[i]->fish.name, &known);
        if (!known)
            event_fault(r, sorted[i], "a group that is there by then",
                        "there is no group \"%s\" to remove fish from", sorted[i]->fish.name);
        else if (sorted[i]->fish.count > count)
            event_fault(r, sorted[i], "no more than are there",
                        "%.17g fish of \"%s\" are to %s, but only %.17g are there",
                        sorted[i]->fish.count, sorted[i]->fish.name,
                        sorted[i]->kind == TL_EVENT_DEAD_FISH ? "die" : "be removed",
                        fmax(count, 0));
    }
    free(sorted);
}
