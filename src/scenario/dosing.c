/* The plan that holds the alkalinity: its values, which are written only where there is one. */
#include <math.h>

#include "date.h"
#include "reader.h"

static struct tl_dosing *plan_of(void *base)
{
    return &((struct tl_draft *)base)->s.setup.dosing;
}

static const struct tl_dosing *written_plan(const void *base)
{
    const struct tl_dosing *d = &((const struct tl_scenario *)base)->setup.dosing;
    return d->hold_alkalinity_eq_m3 > 0 ? d : NULL;
}

static bool plan_quantity_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const double value = *(const double *)((const char *)base + key->offset);
    if (!written_plan(base) || !isfinite(value))
        return false;
    tl_write_number(out, key->dim, value);
    return true;
}
static void plan_quantity_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                               void *base)
{
    tl_read_number(r, n, key, (double *)((char *)base + key->offset));
}
const struct tl_value_type tl_type_plan_quantity = {
    .name = "a quantity",
    .read = plan_quantity_read,
    .write = plan_quantity_write,
    TL_FORMS(TL_NUMBER_FORM),
};

static const char *const with_changes[] = {"water change", NULL};
static void plan_every_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                            void *base)
{
    if (tl_word(n, with_changes) == 0)
        plan_of(base)->every_d = 0;
    else
        plan_quantity_read(r, n, key, base);
}
static bool plan_every_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_dosing *d = written_plan(base);
    if (d && !(d->every_d > 0))
        tl_text_add(out, with_changes[0]);
    else
        return plan_quantity_write(out, key, base);
    return true;
}
const struct tl_value_type tl_type_plan_every = {
    .name = "a time, or water change",
    .read = plan_every_read,
    .write = plan_every_write,
    TL_FORMS(TL_NUMBER_FORM, TL_WORDS_FORM(with_changes)),
};

void tl_read_clock(struct tl_reader *r, struct tl_node *n, int *second)
{
    static const char expected[] = "a clock time from 00:00 to 23:59:59, as 09:00";
    const char *text = tl_value_text(r, n, expected);
    if (text && !tl_clock_parse(text, second))
        tl_fault_text(r, n, expected, "is not a clock time");
}

void tl_write_clock(struct tl_text *out, int second)
{
    tl_text_addf(out, "\"%02d:%02d:%02d\"", second / 3600, second / 60 % 60, second % 60);
}

static void plan_clock_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                            void *base)
{
    (void)key;
    tl_read_clock(r, n, &plan_of(base)->at_s);
}
static bool plan_clock_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_dosing *d = written_plan(base);
    (void)key;
    if (d)
        tl_write_clock(out, d->at_s);
    return d;
}
const struct tl_value_type tl_type_plan_clock = {
    .name = "a clock time",
    .read = plan_clock_read,
    .write = plan_clock_write,
    TL_FORMS(TL_TEXT_FORM(TL_CLOCK_PATTERN)),
};
