/* Everything that a setup has from files must show in its fingerprint, or a study takes an old result
 * for the new question. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "fingerprint.h"

enum { ROWS = 2 };

struct logs {
    double x[4][ROWS], y[4][ROWS];
    struct tl_event event[2];
    struct tl_setup setup;
};

static void make(struct logs *l)
{
    *l = (struct logs){.x = {{0, 1}, {0, 1}, {0, 1}, {0, 1}}};
    struct tl_table *table[] = {&l->setup.temperature.readings, &l->setup.weather.air.readings,
                                &l->setup.weather.log[TL_LOG_SUN], &l->setup.feeding.log};
    for (size_t i = 0; i < 4; i++)
        *table[i] = (struct tl_table){.x = l->x[i], .y = l->y[i], .n = ROWS};
    l->event[0] = (struct tl_event){.at_d = 3, .kind = TL_EVENT_ADD_FISH, .logged = true};
    l->event[0].fish.count = 10;
    l->event[0].fish.mean_mass_g = 300;
    strcpy(l->event[0].fish.name, "guests");
    l->event[1] = (struct tl_event){.at_d = 4, .kind = TL_EVENT_WATER_CHANGE, .value = 0.1};
    l->setup.event = l->event;
    l->setup.events = 2;
}

static uint64_t print_of(const struct logs *l)
{
    return tl_fingerprint_logs(TL_FINGERPRINT_START, &l->setup);
}

static void every_reading_counts(void **state)
{
    struct logs l;
    (void)state;
    make(&l);
    const uint64_t before = print_of(&l);
    for (size_t i = 0; i < 4; i++) {
        l.y[i][1] += 1;
        assert_true(print_of(&l) != before);
        l.y[i][1] -= 1;
        l.x[i][1] += 1;
        assert_true(print_of(&l) != before);
        l.x[i][1] -= 1;
    }
    assert_true(print_of(&l) == before);
}

static void every_delivery_counts(void **state)
{
    struct logs l;
    (void)state;
    for (int change = 0; change < 6; change++) {
        make(&l);
        const uint64_t before = print_of(&l);
        struct tl_event *e = &l.event[0];
        e->at_d += change == 0;
        e->fish.count += change == 1;
        e->fish.mean_mass_g += change == 2;
        e->fish.name[0] = change == 3 ? 'q' : 'g';
        if (change == 4)
            e->kind = TL_EVENT_REMOVE_FISH;
        l.setup.events -= change == 5; /* an event that the scenario itself writes */
        assert_true((print_of(&l) == before) == (change == 5));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_reading_counts),
        cmocka_unit_test(every_delivery_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
