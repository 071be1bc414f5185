/* The table of media: figures that belong together, and what a scenario makes of them. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/chem.h"
#include "towerloop/keys.h"
#include "towerloop/media.h"
#include "towerloop/scenario.h"
#include "towerloop/status.h"

static const char loop[] = "format: 1\nstart: 2027-05-01\nlength: 2 d\n"
                           "tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}\n"
                           "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"
                           "pump: {flow: 4.5 m3/h}\n"
                           "source water: {alkalinity: 225 mg/L as CaCO3, pH: 7.8}\n";

static void read_loop(const char *tower, const char *more, struct tl_scenario *s,
                      struct tl_diag *diag)
{
    char text[2048];
    (void)snprintf(text, sizeof text, "%stower: {trays: 16, media depth: 3 in, %s}\n%s", loop,
                   tower, more);
    tl_diag_init(diag);
    assert_int_equal(tl_scenario_read_text("media.yaml", text, strlen(text), NULL, NULL, s, diag),
                     TL_OK);
}

/* Geometry: stones are rougher than spheres, but not twice and more; walls and threads have a
 * thickness that such things have. */
static void figures_agree_with_geometry(void **state)
{
    (void)state;
    for (size_t i = 0; i < tl_media_count(); i++) {
        const struct tl_media *m = tl_media_at(i);
        const double surface = m->value[TL_MEDIA_SURFACE];
        const double solid = 1 - m->value[TL_MEDIA_VOIDS];
        const double sphericity =
            tl_bed_surface_m2_m3(m->value[TL_MEDIA_VOIDS], m->value[TL_MEDIA_SIZE], 1) / surface;
        const double wall_mm = 2000 * solid / surface;
        print_message("%-16s sphericity %.2f, wall %.2f mm\n", m->name, sphericity, wall_mm);
        if (m->shape == TL_MEDIA_SOLID) {
            assert_true(sphericity > 0.5 && sphericity <= 1.01);
        } else if (m->shape == TL_MEDIA_WALLED) {
            assert_true(wall_mm > 0.5 && wall_mm < 3);
        } else {
            assert_true(2 * wall_mm > 0.5 && 2 * wall_mm < 3);
        }
    }
}

/* Of what is solid in it: burnt clay and lava are full of pores, plastic is lighter than water. */
static void dry_mass_agrees_with_the_material(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        double least_kg_m3, most_kg_m3;
    } grain[] = {{"lava rock", 1000, 2000},       {"fine lava rock", 1000, 2000},
                 {"gravel", 2400, 2800},          {"expanded clay", 440, 1000},
                 {"cut plastic", 890, 970},       {"plastic rings", 890, 970},
                 {"ceramic saddles", 2000, 2500}, {"plastic netting", 890, 970}};
    assert_int_equal(tl_media_count(), sizeof grain / sizeof *grain);
    for (size_t i = 0; i < tl_media_count(); i++) {
        const struct tl_media *m = tl_media_find(grain[i].name);
        assert_non_null(m);
        const double kg_m3 = m->value[TL_MEDIA_DENSITY] / (1 - m->value[TL_MEDIA_VOIDS]);
        assert_true(kg_m3 >= grain[i].least_kg_m3 && kg_m3 <= grain[i].most_kg_m3);
        /* what drips off stands in the voids and in the pores */
        assert_true(m->value[TL_MEDIA_HELD] > 0 && m->value[TL_MEDIA_HELD] < 0.5);
    }
}

static void each_figure_has_a_status_and_a_key(void **state)
{
    (void)state;
    for (size_t i = 0; i < tl_media_count(); i++) {
        const struct tl_media *m = tl_media_at(i);
        assert_ptr_equal(tl_media_find(tl_media_names[i]), m);
        for (int f = 0; f < TL_NMEDIA_FIGURE; f++) {
            const char *status = m->status[f];
            assert_true(m->value[f] > 0);
            assert_true(strcmp(status, "published") == 0 || strcmp(status, "memory") == 0 ||
                        strcmp(status, "judgement") == 0 || strcmp(status, "common practice") == 0);
        }
    }
    assert_null(tl_media_names[tl_media_count()]);
    assert_null(tl_media_find("lava"));
    for (int f = 0; f < TL_NMEDIA_FIGURE; f++) {
        bool found = false;
        for (size_t k = 0; k < tl_key_list_size(); k++) {
            struct tl_key_info key;
            tl_key_list_at(k, &key);
            found = found || strcmp(key.path, tl_media_figure_key((enum tl_media_figure)f)) == 0;
        }
        assert_true(found);
    }
}

static void read_figures(const struct tl_scenario *s, double *value)
{
    const struct tl_tower *t = &s->setup.tower;
    const double seen[TL_NMEDIA_FIGURE] = {
        [TL_MEDIA_SURFACE] = t->specific_surface_m2_m3,
        [TL_MEDIA_SIZE] = t->media_size_m,
        [TL_MEDIA_VOIDS] = t->void_fraction,
        [TL_MEDIA_SIGMA] = t->critical_surface_tension_n_m,
        [TL_MEDIA_DENSITY] = s->building.bulk_density_kg_m3,
        [TL_MEDIA_HELD] = s->building.water_held,
    };
    memcpy(value, seen, sizeof seen);
}

static void a_scenario_takes_the_row_and_overrides_it(void **state)
{
    (void)state;
    struct tl_scenario s;
    struct tl_diag diag;
    double seen[TL_NMEDIA_FIGURE];
    for (size_t i = 0; i < tl_media_count(); i++) {
        char tower[128];
        const struct tl_media *m = tl_media_at(i);
        (void)snprintf(tower, sizeof tower, "plan area: 0.27 m2, media: %s", m->name);
        read_loop(tower, "", &s, &diag);
        read_figures(&s, seen);
        for (int f = 0; f < TL_NMEDIA_FIGURE; f++)
            near(seen[f], m->value[f], 0);
        tl_scenario_free(&s);
        tl_diag_free(&diag);
    }
    read_loop("plan area: 0.27 m2, media: gravel, specific surface: 99 m2/m3, media size: 41 mm, "
              "void: 37 %, critical surface tension: 0.05 N/m",
              "building: {bulk density: 1234 kg/m3, water held: 11 %}\n", &s, &diag);
    read_figures(&s, seen);
    const double own[TL_NMEDIA_FIGURE] = {99, 0.041, 0.37, 0.05, 1234, 0.11};
    for (int f = 0; f < TL_NMEDIA_FIGURE; f++)
        near(seen[f], own[f], 1e-12);
    tl_scenario_free(&s);
    tl_diag_free(&diag);
}

static bool warned(const struct tl_diag *diag, const char *part)
{
    for (size_t i = 0; i < diag->count; i++)
        if (strstr(diag->message[i].what, part))
            return true;
    return false;
}

/* A good load says nothing; little water wets little; fine media fill up and then run over. */
static void loads_out_of_bounds_are_warned_of(void **state)
{
    (void)state;
    static const struct {
        const char *tower, *says;
    } load[] = {
        {"plan area: 0.27 m2", NULL},
        {"plan area: 9 m2", "wet about"},
        {"plan area: 0.1 m2", "lower and wider"},
        {"plan area: 0.2 m2, media: fine lava rock", NULL},
        {"plan area: 0.15 m2, media: gravel, media size: 3 mm, specific surface: 1000 m2/m3",
         "leave no way for air"},
        {"plan area: 0.15 m2, media size: 1 mm, specific surface: 2000 m2/m3, void: 20 %",
         "runs over"},
        {"plan area: 0.15 m2, media size: 1 mm, specific surface: 2000 m2/m3, void: 20 %, "
         "submerged: yes",
         NULL},
    };
    for (size_t i = 0; i < sizeof load / sizeof *load; i++) {
        struct tl_scenario s;
        struct tl_diag diag;
        read_loop(load[i].tower, "", &s, &diag);
        if (load[i].says)
            assert_true(warned(&diag, load[i].says));
        else
            assert_false(warned(&diag, "of water an hour"));
        tl_scenario_free(&s);
        tl_diag_free(&diag);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_agree_with_geometry),
        cmocka_unit_test(dry_mass_agrees_with_the_material),
        cmocka_unit_test(each_figure_has_a_status_and_a_key),
        cmocka_unit_test(a_scenario_takes_the_row_and_overrides_it),
        cmocka_unit_test(loads_out_of_bounds_are_warned_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
