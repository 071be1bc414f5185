/* When films that began new or seeded count as ready, and whether a scenario ever has fish. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "near.h"
#include "text.h"
#include "towerloop/film_proof.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

/* What films do in a day, from some day on. */
struct stage {
    double from_d, loaded_g, oxidised, nitrite_oxidised, growth;
};

static const struct stage bare[] = {{0, 1, 0.01, 0, 0.1}};
static const struct stage grown[] = {{0, 1, 0.9, 0.9, 0}};
static const struct stage seeded[] = {{0, 1, 0.3, 0.25, 0.05}, {1, 1, 0.9, 0.9, 0}};
static const struct stage slow[] = {
    {0, 1, 0.01, 0, 0.15}, {12, 1, 0.9, 0.1, 0}, {20, 1, 0.9, 0.9, 0}};
static const struct stage no_nitrite[] = {{0, 1, 0.9, 0.4, 0}};
static const struct stage growing[] = {{0, 1, 0.9, 0.9, 0.06}};
static const struct stage unfed[] = {{0, 0, 0, 0, 0}};
static const struct stage killed[] = {
    {0, 1, 0.9, 0.9, 0}, {10, 1, 0.05, 0.05, 0}, {14, 1, 0.9, 0.9, 0}};
static const struct stage paused[] = {{0, 1, 0.9, 0.9, 0}, {8, 0, 0, 0, 0}, {20, 1, 0.9, 0.9, 0}};
static const struct stage left[] = {{0, 1, 0.9, 0.9, 0}, {20, 0, 0, 0, 0}};

static const struct stage *stage_at(const struct stage *s, size_t n, double t_d)
{
    size_t i = 0;
    while (i + 1 < n && t_d >= s[i + 1].from_d)
        i++;
    return &s[i];
}

/* The verdict on films that live by these stages, in water that is low from `low_d` on. */
static struct tl_verdict judged(enum tl_biofilm start, const struct stage *s, size_t n,
                                double start_d, double end_d, double low_d)
{
    const double step_d = 1.0 / 288;
    const struct tl_setup setup = {.start_d = start_d, .tower.biofilm = start};
    struct tl_film_proof proof;
    struct tl_ammonia_sums sums = {.aob_g = 1};
    struct tl_verdict v = {.low_from_d = low_d, .filter_ready_d = low_d};
    tl_film_proof_begin(&proof, &setup);
    for (size_t k = 0; start_d + (double)k * step_d < end_d + step_d / 2; k++) {
        const double t_d = start_d + (double)k * step_d;
        const struct stage *now = stage_at(s, n, t_d);
        if (tl_film_proof_due(&proof, t_d))
            tl_film_proof_add(&proof, &sums);
        if (t_d > end_d - step_d / 2)
            break;
        sums.loaded_g += step_d * now->loaded_g;
        sums.oxidised_g += step_d * now->oxidised;
        sums.nitrite_oxidised_g += step_d * now->nitrite_oxidised;
        sums.aob_g *= pow(1 + now->growth, step_d);
    }
    tl_film_proof_end(&proof, end_d, &sums, &v);
    return v;
}
#define JUDGED(stages, start_d, end_d, low_d)                                                      \
    judged(TL_BIOFILM_NEW, stages, sizeof stages / sizeof *stages, start_d, end_d, low_d)

static void what_is_shown(void **state)
{
    (void)state;
    assert_true(isnan(JUDGED(bare, 0, 14, 0).filter_ready_d));
    assert_true(isnan(JUDGED(no_nitrite, 0, 14, 0).filter_ready_d));
    assert_true(isnan(JUDGED(growing, 0, 14, 0).filter_ready_d));
    assert_true(isnan(JUDGED(unfed, 0, 14, 0).filter_ready_d));
    near(JUDGED(grown, 0, 14, 0).filter_ready_d, 0, 0);
    near(JUDGED(grown, 0.3, 14.2, 0.3).filter_ready_d, 0.3, 1e-12);
    near(JUDGED(seeded, 0, 14, 0).filter_ready_d, 0, 0);
    near(JUDGED(grown, 0, 3, 0).filter_ready_d, 0, 0);
    /* not longer than the days of the proof, or the water not low: never */
    assert_true(isnan(JUDGED(grown, 0, 2.9, NAN).filter_ready_d));
    assert_true(isnan(JUDGED(grown, 0, 14, NAN).filter_ready_d));
}

static void from_which_day(void **state)
{
    (void)state;
    /* the films of `slow` take a fifth of nitrite in the three days that begin within half a day of day 17.4 */
    near(JUDGED(slow, 0, 30, 0).filter_ready_d, 17.5, 0.5);
    near(JUDGED(slow, 0, 30, 25.125).filter_ready_d, 25.125, 0);
    assert_true(isnan(JUDGED(slow, 0, 21, 0).filter_ready_d));
    near(JUDGED(killed, 0, 30, 0).filter_ready_d, 11.5, 0.5);
    /* days without anything say nothing, but at the end */
    near(JUDGED(paused, 0, 30, 0).filter_ready_d, 0, 0);
    assert_true(isnan(JUDGED(left, 0, 30, 0).filter_ready_d));
}

static void a_mature_film_keeps_the_rule_of_the_water(void **state)
{
    (void)state;
    const struct tl_verdict v = judged(TL_BIOFILM_MATURE, bare, 1, 0, 14, 2.5);
    near(v.filter_ready_d, 2.5, 0);
    assert_false(v.film.asked);
}

/* --- in words ------------------------------------------------------------------------------------- */

static void says(const struct tl_verdict *v, const char *what)
{
    struct tl_text t = {0};
    tl_filter_unproven(v, &t);
    if (!what)
        assert_true(tl_text_is_empty(&t));
    else if (!strstr(tl_text_string(&t), what))
        fail_msg("\"%s\" says nothing of \"%s\"", tl_text_string(&t), what);
    tl_text_free(&t);
}

static void why_it_is_not_ready(void **state)
{
    (void)state;
    struct tl_verdict v = JUDGED(bare, 0, 14, 0);
    says(&v, "not by the filter, which oxidised 0.03 of 3 g N in the last 3 days: it is not shown "
             "to be ready.");
    v = JUDGED(no_nitrite, 0, 14, 0);
    says(&v, "which brought 1.2 of 3 g N on to nitrate in the last 3 days: it is not shown to be "
             "ready.");
    v = JUDGED(growing, 0, 14, 0);
    says(&v, "the filter still grows by 6 % a day: it is not shown to be ready.");
    v = JUDGED(unfed, 0, 14, 0);
    says(&v,
         "none came in, from fish, feed or a dose, in the last 3 days: the filter is not shown");
    v = JUDGED(bare, 0, 14, NAN);
    says(&v, NULL);
    v = JUDGED(grown, 0, 14, 0);
    says(&v, NULL);
}

static void cannot_tell(const struct tl_setup *s, bool unready, const char *what, const char * not )
{
    struct tl_text t = {0};
    tl_run_cannot_tell(s, 60, false, unready, &t);
    if (what)
        assert_non_null(strstr(tl_text_string(&t), what));
    if (not )
        assert_null(strstr(tl_text_string(&t), not ));
    tl_text_free(&t);
}

static void the_verdict_says_so_however_long_the_run(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 40);
    cannot_tell(&s, true, "The new filter is not shown to be ready by the end", "too short");
    cannot_tell(&s, false, NULL, "ready");
    assert_false(tl_filter_unready(&s, NAN));
    s.tower.biofilm = TL_BIOFILM_SEEDED;
    assert_true(tl_filter_unready(&s, NAN));
    assert_false(tl_filter_unready(&s, 0));
    free_loop(&s);
}

/* --- fish ------------------------------------------------------------------------------------------- */

static struct tl_event fish_at(double at_d, enum tl_event_kind kind, const char *name, double count)
{
    struct tl_event e = {.at_d = at_d, .kind = kind, .fish = {.count = count, .mean_mass_g = 500}};
    strcpy(e.fish.name, name);
    return e;
}

static void fish_are_counted_not_groups(void **state)
{
    (void)state;
    struct tl_setup s;
    char name[TL_NAME_SIZE];
    reference_loop(&s, 40);
    memcpy(name, s.fish[0].name, sizeof name);
    assert_true(tl_setup_ever_fish(&s));
    const double count = s.fish[0].count;
    add_event(&s, fish_at(0, TL_EVENT_REMOVE_FISH, name, count - 1));
    assert_true(tl_setup_ever_fish(&s)); /* one stays */
    add_event(&s, fish_at(0, TL_EVENT_DEAD_FISH, name, 1));
    assert_false(tl_setup_ever_fish(&s));
    cannot_tell(&s, false, "There are no fish in this run", NULL);
    add_event(&s, fish_at(5, TL_EVENT_ADD_FISH, "guests", 0));
    assert_false(tl_setup_ever_fish(&s));
    add_event(&s, fish_at(s.length_d, TL_EVENT_ADD_FISH, "late", 5));
    assert_false(tl_setup_ever_fish(&s));
    add_event(&s, fish_at(7, TL_EVENT_ADD_FISH, "guests", 3));
    assert_true(tl_setup_ever_fish(&s));
    add_event(&s, fish_at(7, TL_EVENT_REMOVE_FISH, "guests", 3));
    assert_false(tl_setup_ever_fish(&s));
    add_event(&s, fish_at(0, TL_EVENT_ADD_FISH, name, 1));
    assert_true(tl_setup_ever_fish(&s)); /* in the order of the file: the last one stays */
    free_loop(&s);

    reference_loop(&s, 40);
    s.fish[0].count = 0;
    assert_false(tl_setup_ever_fish(&s));
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_shown),
        cmocka_unit_test(from_which_day),
        cmocka_unit_test(a_mature_film_keeps_the_rule_of_the_water),
        cmocka_unit_test(why_it_is_not_ready),
        cmocka_unit_test(the_verdict_says_so_however_long_the_run),
        cmocka_unit_test(fish_are_counted_not_groups),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
