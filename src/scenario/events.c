/* The list of events: each entry has a time, perhaps a length (`for:`), and one or more actions. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "reader.h"
#include "towerloop/status.h"

#define AT_EXPECTED "day 20, day 20 14:00 or day 20.5; day 0 is the date of the start"

/* A new event with the content of `like`; its time is set once the whole entry is read. */
static void push(struct tl_reader *r, const struct tl_event *like)
{
    struct tl_setup *s = &r->draft->s.setup;
    if (s->events == r->event_capacity) {
        size_t capacity = r->event_capacity ? 2 * r->event_capacity : 16;
        struct tl_event *event = realloc(s->event, capacity * sizeof *event);
        if (event)
            s->event = event;
        struct tl_node **entry = realloc(r->event_entry, capacity * sizeof *entry);
        if (entry)
            r->event_entry = entry;
        if (!event || !entry) {
            r->out_of_memory = true;
            return;
        }
        r->event_capacity = capacity;
    }
    s->event[s->events++] = *like;
}

static void push_value(struct tl_reader *r, int kind, double value)
{
    push(r, &(struct tl_event){.kind = (enum tl_event_kind)kind, .value = value});
}

static bool is_text(struct tl_node *n, const char *word)
{
    return n->kind == TL_NODE_TEXT && strcmp(n->text, word) == 0;
}

/* --- times ----------------------------------------------------------------------------------- */

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
const struct tl_value_type tl_type_event_time = {"a time", event_time_read, event_time_write};

/* --- actions --------------------------------------------------------------------------------- */

static void quantity_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                 void *base)
{
    double value;
    (void)base;
    if (tl_read_number(r, n, key, &value))
        push_value(r, key->id, value);
}
const struct tl_value_type tl_type_quantity_action = {"a quantity", quantity_action_read, NULL};

static void pump_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    if (is_text(n, "off"))
        push_value(r, TL_EVENT_PUMP_FLOW, 0);
    else if (is_text(n, "on"))
        push_value(r, TL_EVENT_PUMP_ON, 0);
    else if (n->kind == TL_NODE_MAPPING && n->first)
        tl_read_section(r, n, key->path, base);
    else
        tl_fault(r, n, "off, on, or {flow: 600 gal/h, to tower: 50 %}",
                 "not an action of the pump");
}
const struct tl_value_type tl_type_pump_action = {"off, on, or flow and share to the tower",
                                                  pump_action_read, NULL};

static void aerator_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                void *base)
{
    if (is_text(n, "off"))
        push_value(r, TL_EVENT_AERATOR, 0);
    else if (is_text(n, "on"))
        push_value(r, TL_EVENT_AERATOR_ON, 0);
    else
        quantity_action_read(r, n, key, base);
}
const struct tl_value_type tl_type_aerator_action = {"off, on or a quantity", aerator_action_read,
                                                     NULL};

static void fish_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_event e = {.kind = (enum tl_event_kind)key->id};
    (void)base;
    tl_read_section(r, n, key->path, &e.fish);
    push(r, &e);
}
const struct tl_value_type tl_type_fish_action = {"a group of fish", fish_action_read, NULL};

static void ration_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                               void *base)
{
    struct tl_event e = {.kind = TL_EVENT_RATION};
    struct tl_key ration = {.offset = offsetof(struct tl_event, ration)};
    (void)key;
    (void)base;
    size_t errors = r->diag->errors;
    tl_type_ration.read(r, n, &ration, &e);
    if (r->diag->errors == errors && !r->out_of_memory)
        push(r, &e);
    else
        tl_table_free(&e.ration.table);
}
const struct tl_value_type tl_type_ration_action = {"a ration", ration_action_read, NULL};

static void dose_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    if (n->kind == TL_NODE_MAPPING && n->first)
        tl_read_section(r, n, key->path, base);
    else
        tl_fault(r, n, "{baking soda: 500 g}, salt or ammonium chloride", "not a dose");
}
const struct tl_value_type tl_type_dose = {"keys", dose_read, NULL};

static void dose_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_event e = {.kind = TL_EVENT_DOSE, .dose = (enum tl_dose)key->id};
    (void)base;
    if (tl_read_number(r, n, key, &e.value))
        push(r, &e);
}
const struct tl_value_type tl_type_dose_action = {"a quantity", dose_action_read, NULL};

static void clean_action_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                              void *base)
{
    static const char expected[] = "settling chamber, tray 1 (or another number) or all trays";
    struct tl_event e = {0};
    double tray;
    (void)key;
    (void)base;
    const char *text = tl_value_text(r, n, expected);
    if (!text)
        return;
    if (strcmp(text, "settling chamber") == 0) {
        e.kind = TL_EVENT_CLEAN_CHAMBER;
    } else if (strcmp(text, "all trays") == 0) {
        e.kind = TL_EVENT_CLEAN_TRAYS;
    } else if (strncmp(text, "tray ", 5) == 0 && strlen(text) > 5 &&
               tl_parse_number(text + 5, &tray) == strlen(text + 5) && tray >= 1 && tray <= 1e6 &&
               tray == floor(tray)) {
        e.kind = TL_EVENT_CLEAN_TRAY;
        e.tray = (int)tray;
    } else {
        tl_fault_text(r, n, expected, "cannot be cleaned");
        return;
    }
    push(r, &e);
}
const struct tl_value_type tl_type_clean_action = {"what is cleaned", clean_action_read, NULL};

/* --- the list -------------------------------------------------------------------------------- */

/* What an event changes until further notice: only that can be put back by `for:`. */
static const char *restorable(enum tl_event_kind kind)
{
    switch (kind) {
    case TL_EVENT_PUMP_FLOW:
    case TL_EVENT_PUMP_ON:
        return "pump";
    case TL_EVENT_TO_TOWER:
        return "share to the tower";
    case TL_EVENT_AERATOR:
    case TL_EVENT_AERATOR_ON:
        return "aerator";
    case TL_EVENT_RATION:
        return "ration";
    default:
        return NULL;
    }
}

static void read_entry(struct tl_reader *r, struct tl_node *n)
{
    struct tl_setup *s = &r->draft->s.setup;
    struct tl_event entry = {0};
    size_t first = s->events;
    size_t errors = r->diag->errors;
    tl_read_item(r, n, "events[]", &entry);
    if (s->events == first && r->diag->errors == errors && !r->cut)
        tl_fault(r, n,
                 "pump, flow, to tower, aerator, add fish, remove fish, ration, change water, "
                 "dose or clean",
                 "an event without an action");

    for (size_t i = first; i < s->events; i++) {
        const char *what = restorable(s->event[i].kind);
        for (size_t j = first; j < i && what; j++) {
            const char *other = restorable(s->event[j].kind);
            if (other && strcmp(what, other) == 0)
                tl_fault(r, n, "one change of it at a time", "the %s is changed twice", what);
        }
    }

    struct tl_node *lasts = tl_place(r, "events[].for");
    for (size_t i = first; i < s->events; i++) {
        s->event[i].at_d = entry.at_d;
        s->event[i].for_d = entry.for_d;
        s->event[i].line = n->line;
        r->event_entry[i] = n;
        if (lasts && !restorable(s->event[i].kind)) {
            tl_fault(r, lasts, "for: with pump, flow, to tower, aerator or ration",
                     "this event has nothing to put back afterwards");
            break;
        }
    }
}

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
    for (struct tl_node *c = n->first; c && !r->out_of_memory; c = c->next)
        read_entry(r, c);
}

static void write_action(struct tl_text *out, const struct tl_event *e)
{
    static const struct tl_key ration = {.offset = offsetof(struct tl_event, ration)};
    static const char *const doses[TL_NDOSE] = {[TL_DOSE_BAKING_SODA] = "baking soda",
                                                [TL_DOSE_SALT] = "salt",
                                                [TL_DOSE_AMMONIUM_CHLORIDE] = "ammonium chloride"};
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
        tl_text_add(out, "flow: ");
        tl_write_number(out, TL_DIM_FLOW, e->value);
        break;
    case TL_EVENT_PUMP_ON:
        tl_text_add(out, "pump: on");
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
        tl_write_number(out, TL_DIM_MASS, e->value);
        tl_text_add(out, "}");
        break;
    case TL_EVENT_CLEAN_CHAMBER:
        tl_text_add(out, "clean: settling chamber");
        break;
    case TL_EVENT_CLEAN_TRAY:
        tl_text_addf(out, "clean: tray %d", e->tray);
        break;
    case TL_EVENT_CLEAN_TRAYS:
    case TL_NEVENT:
        tl_text_add(out, "clean: all trays");
        break;
    }
}

static bool event_list_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_setup *s = (const struct tl_setup *)((const char *)base + key->offset);
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        tl_text_add(out, "\n  - {at: ");
        event_time_write(out, NULL, e);
        tl_text_add(out, ", ");
        write_action(out, e);
        if (e->for_d > 0) {
            tl_text_add(out, ", for: ");
            tl_write_number(out, TL_DIM_TIME, e->for_d);
        }
        tl_text_add(out, "}");
    }
    return s->events > 0;
}
const struct tl_value_type tl_type_event_list = {"a list of events", event_list_read,
                                                 event_list_write};

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
                         "the %s is changed within the `for:` of the event on line %u", what,
                         sorted[i]->line);
        }
    }
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
        if (e->kind == TL_EVENT_CLEAN_TRAY && e->tray > s->tower.trays)
            tl_fault(r, entry_of(r, e), "a tray of the tower",
                     "there is no tray %d, the tower has %d", e->tray, s->tower.trays);
    }
    qsort(sorted, n, sizeof *sorted, by_time);
    check_overlap(r, sorted, n);
    for (size_t i = 0; i < n; i++) {
        bool known;
        if (sorted[i]->kind != TL_EVENT_REMOVE_FISH)
            continue;
        double count = fish_before(s, sorted, i, sorted[i]->fish.name, &known);
        if (!known)
            tl_fault(r, entry_of(r, sorted[i]), "a group that is there by then",
                     "there is no group \"%s\" to remove fish from", sorted[i]->fish.name);
        else if (sorted[i]->fish.count > count)
            tl_fault(r, entry_of(r, sorted[i]), "no more than are there",
                     "%.17g fish of \"%s\" are to be removed, but only %.17g are there",
                     sorted[i]->fish.count, sorted[i]->fish.name, fmax(count, 0));
    }
    free(sorted);
}
