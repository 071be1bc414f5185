/* The sun and the green water of the scenario: values that are written only where there is sun. */
#include "reader.h"

static const struct tl_setup *written(const void *base)
{
    const struct tl_setup *s = &((const struct tl_scenario *)base)->setup;
    return s->sun.given ? s : NULL;
}

static void sun_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    tl_read_number(r, n, key, (double *)((char *)base + key->offset));
}
static bool sun_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_setup *s = written(base);
    const double *value = (const double *)((const char *)base + key->offset);
    if (!s || (s->weather.given && (value == &s->sun.hours_d || value == &s->sun.noon_w_m2)))
        return false;
    tl_write_number(out, key->dim, *value);
    return true;
}
const struct tl_value_type tl_type_sun = {
    .name = "a quantity",
    .read = sun_read,
    .write = sun_write,
    TL_FORMS(TL_NUMBER_FORM),
};

static const char *const none[] = {"none", NULL};
static void green_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    double *green = (double *)((char *)base + key->offset);
    if (tl_word(n, none) == 0)
        *green = 0;
    else
        tl_read_number(r, n, key, green);
}
static bool green_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_setup *s = written(base);
    if (!s)
        return false;
    if (s->green_g_m3 > 0)
        tl_write_number(out, key->dim, s->green_g_m3);
    else
        tl_text_add(out, none[0]);
    return true;
}
const struct tl_value_type tl_type_green_water = {
    .name = "none, or what there is at the start",
    .read = green_read,
    .write = green_write,
    TL_FORMS(TL_WORDS_FORM(none), TL_NUMBER_FORM),
};

/* The weather has hours and noon of its own. */
static void fill_light(struct tl_reader *r)
{
    static const char *const path[] = {"sun.hours", "sun.noon"};
    struct tl_setup *s = &r->draft->s.setup;

    if (!s->weather.given) {
        if (!tl_place(r, "sun.hours"))
            tl_fault_missing(r, tl_place(r, "sun"), "hours",
                             "the hours of sun a day, or a section weather");
        return;
    }
    for (size_t i = 0; i < sizeof path / sizeof *path; i++)
        if (tl_place(r, path[i]))
            tl_fault(r, tl_place(r, path[i]), "the shade alone",
                     "the light comes from the weather");
    if (!tl_place(r, "sun.tank shaded"))
        s->sun.tank_shaded = s->weather.shade;
}

/* Algae without light, and a jet with nothing to take. */
void tl_fill_sun(struct tl_reader *r)
{
    struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *green = tl_place(r, "tank.green water");

    if (tl_place(r, "sun")) {
        s->sun.given = true; /* an empty section too: the sun with its defaults */
        fill_light(r);
        return;
    }
    if (green && !green->faulty && s->green_g_m3 > 0)
        tl_fault(r, green, "none, or a section sun, as sun: {hours: 8 h}",
                 "there is no sun for it to live on");
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_HOSE_TRAY || s->event[i].kind == TL_EVENT_HOSE_TRAYS)
            tl_warn(r, r->event_entry[i],
                    "without sun there are no algae to hose off; only some of the film is lost");
}
