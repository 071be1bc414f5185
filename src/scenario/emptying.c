/* The plan by which the settling chamber is emptied: its values, written only where there is one. */
#include "date.h"
#include "reader.h"

static struct tl_emptying *plan_of(void *base)
{
    return &((struct tl_draft *)base)->s.setup.emptying;
}

static const struct tl_emptying *written_plan(const void *base)
{
    const struct tl_emptying *e = &((const struct tl_scenario *)base)->setup.emptying;
    return e->every_d > 0 ? e : NULL;
}

static void every_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    tl_read_number(r, n, key, &plan_of(base)->every_d);
}
static bool every_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_emptying *e = written_plan(base);
    if (e)
        tl_write_number(out, key->dim, e->every_d);
    return e;
}
const struct tl_value_type tl_type_emptied_every = {
    .name = "a quantity",
    .read = every_read,
    .write = every_write,
    TL_FORMS(TL_NUMBER_FORM),
};

static void clock_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    (void)key;
    tl_read_clock(r, n, &plan_of(base)->at_s);
}
static bool clock_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_emptying *e = written_plan(base);
    (void)key;
    if (e)
        tl_write_clock(out, e->at_s);
    return e;
}
const struct tl_value_type tl_type_emptied_clock = {
    .name = "a clock time",
    .read = clock_read,
    .write = clock_write,
    TL_FORMS(TL_TEXT_FORM(TL_CLOCK_PATTERN)),
};
