/* Medicine in a scenario: what it does to the filter and takes from the fish, and two of it together. */
#include "reader.h"
#include "towerloop/shock.h"

#define MOST_G_M3 1e5 /* a tenth of the water's weight: no dose, but a slip of the units */

struct shown {
    char text[40];
};

/* Rounded, and never with a power of ten. */
static struct shown shown(double value, int digits)
{
    struct shown s;
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, digits, s.text, sizeof s.text);
    return s;
}

static bool is_medicine(const struct tl_event *e)
{
    return e->kind == TL_EVENT_DOSE && tl_dose_is_medicine(e->dose);
}

static const char *name_of(enum tl_dose dose)
{
    return dose == TL_DOSE_FORMALDEHYDE ? "formaldehyde"
           : dose == TL_DOSE_PEROXIDE   ? "hydrogen peroxide"
                                        : "chloramine-T";
}

static void check_mixing(struct tl_reader *r, const struct tl_event *e)
{
    const struct tl_setup *s = &r->draft->s.setup;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *other = &s->event[i];
        if (!is_medicine(other) || other->dose == e->dose || other->at_d > e->at_d ||
            (other->at_d == e->at_d && other > e) || e->at_d - other->at_d >= TL_MEDICINE_GONE_D)
            continue;
        tl_warn(r, r->event_entry[e - s->event],
                "less than %.0f days after %s: never mix medicines, what they do together is not "
                "reckoned here",
                TL_MEDICINE_GONE_D, name_of(other->dose));
        return;
    }
}

static void check_one(struct tl_reader *r, const struct tl_event *e)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double content = tl_medicine_content_g_m3(s, e);
    struct tl_text t = {0};

    if (content > MOST_G_M3) {
        tl_fault(r, r->event_entry[e - s->event], "at most 100 g in a litre of tank and chamber",
                 "more %s than this water can hold", name_of(e->dose));
        return;
    }
    tl_text_addf(&t, "%s mg/L of %s kill about %s %% of the film that cleans the water",
                 shown(content, 3).text, name_of(e->dose),
                 shown(100 * tl_medicine_kill(e->dose, content), 2).text);
    if (e->dose == TL_DOSE_FORMALDEHYDE)
        tl_text_addf(&t, " and take %s to %s mg/L of oxygen in all: aerate strongly",
                     shown(content / TL_FORMALDEHYDE_G_PER_O2, 2).text,
                     shown(content * TL_FORMALDEHYDE_O2_G_PER_G, 2).text);
    if (content > tl_medicine_known_to(e->dose))
        tl_text_addf(&t, ", and nothing is known above %s mg/L: far too much for fish",
                     shown(tl_medicine_known_to(e->dose), 3).text);
    tl_text_add(&t, "; medicine is for a veterinarian to decide");
    tl_warn(r, r->event_entry[e - s->event], "%s", tl_text_string(&t));
    tl_text_free(&t);
    check_mixing(r, e);
}

void tl_check_medicine(struct tl_reader *r)
{
    static const char *const around[] = {"events", "tank", "settling chamber"};
    const struct tl_setup *s = &r->draft->s.setup;
    for (size_t i = 0; i < sizeof around / sizeof *around; i++) {
        const struct tl_node *n = tl_place(r, around[i]);
        if (!n || n->faulty)
            return;
    }
    for (size_t i = 0; i < s->events; i++)
        if (is_medicine(&s->event[i]))
            check_one(r, &s->event[i]);
}
