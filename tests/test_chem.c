/* Water chemistry: properties that hold whatever the constants, and the solver at its extremes.
 * Published values are checked in tests/outside. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

/* Alkalinity that water with this [H+] holds, eq/m3: the balance written out species by species. */
static double alkalinity(const struct tl_carbonate *k, double h, double tic, double tan)
{
    const double co3_per_hco3 = k->k2 / h;
    const double co2_per_hco3 = h / k->k1;
    const double hco3 = tic / (1.0 + co3_per_hco3 + co2_per_hco3);
    const double nh3 = tan / TL_N_G_PER_MOL / (1.0 + h / k->ka);

    return hco3 + 2.0 * hco3 * co3_per_hco3 + nh3 + 1e3 * (k->kw / h - h);
}

/* The answer must bracket the balance: a hair more acid holds less alkalinity, a hair less more. */
static void assert_solved(const struct tl_carbonate *k, double alk, double tic, double tan,
                          double guess)
{
    double h = guess;

    assert_int_equal(tl_solve_ph(k, alk, tic, tan, &h), TL_OK);
    if (!(alkalinity(k, h * (1.0 + 1e-7), fmax(tic, 0.0), fmax(tan, 0.0)) <= alk) ||
        !(alkalinity(k, h * (1.0 - 1e-7), fmax(tic, 0.0), fmax(tan, 0.0)) >= alk))
        fail_msg("alk %g tic %g tan %g from %g: h = %.17g", alk, tic, tan, guess, h);
}

static void solves_ph_from_any_guess_in_any_water(void **state)
{
    static const double alks[] = {-2000, -100, -1, -1e-3, 0, 1e-6, 0.01, 1, 4.5, 30, 1000};
    static const double tics[] = {-1, 0, 1e-9, 1e-3, 0.2, 4.5, 50, 1000};
    static const double tans[] = {-1, 0, 1e-6, 0.5, 50, 14007};
    const size_t nalk = sizeof alks / sizeof alks[0];
    const size_t ntic = sizeof tics / sizeof tics[0];
    const size_t ntan = sizeof tans / sizeof tans[0];

    (void)state;
    for (double t = 0.0; t <= 40.0; t += 20.0) {
        struct tl_carbonate k;

        tl_carbonate_constants(t, &k);
        for (double guess = 1e-14; guess < 2.0; guess *= 10.0) {
            for (size_t i = 0; i < nalk * ntic * ntan; i++)
                assert_solved(&k, alks[i % nalk], tics[i / nalk % ntic], tans[i / nalk / ntic],
                              guess);
        }
    }
}

static void finds_the_ph_that_made_the_water(void **state)
{
    (void)state;
    for (double t = 0.0; t <= 40.0; t += 5.0) {
        struct tl_carbonate k;

        tl_carbonate_constants(t, &k);
        for (double ph = 3.0; ph <= 12.0; ph += 0.25) {
            for (double tic = 0.01; tic < 50.0; tic *= 5.0) {
                for (double tan = 0.0; tan <= 50.0; tan += 25.0) {
                    const double h0 = pow(10.0, -ph);
                    double h = 1e-7;

                    assert_int_equal(tl_solve_ph(&k, alkalinity(&k, h0, tic, tan), tic, tan, &h),
                                     TL_OK);
                    near_rel(h, h0, 1e-9);
                }
            }
        }
    }
}

static void tic_and_ph_are_each_others_inverse(void **state)
{
    (void)state;
    for (double t = 0.0; t <= 40.0; t += 10.0) {
        struct tl_carbonate k;

        tl_carbonate_constants(t, &k);
        for (double alk = 0.05; alk < 60.0; alk *= 3.0) {
            for (double ph = 5.0; ph <= 9.5; ph += 0.5) {
                for (double tan = 0.0; tan <= 20.0; tan += 10.0) {
                    const double h0 = pow(10.0, -ph);
                    const double tic = tl_tic_from_h(&k, alk, h0, tan);
                    double h = 1e-8;

                    if (tic <= 0.0) /* more base than the alkalinity leaves room for */
                        continue;
                    assert_int_equal(tl_solve_ph(&k, alk, tic, tan, &h), TL_OK);
                    near_rel(h, h0, 1e-9);
                }
            }
        }
    }
}

static void tic_is_negative_where_it_cannot_be(void **state)
{
    struct tl_carbonate k;

    (void)state;
    tl_carbonate_constants(20.0, &k);
    assert_true(tl_tic_from_h(&k, 0.01, 1e-11, 0.0) < 0.0);
    assert_true(tl_tic_from_h(&k, 0.1, 1e-9, 20.0) < 0.0);
}

static void pure_water_is_neutral(void **state)
{
    (void)state;
    for (double t = 0.0; t <= 40.0; t += 10.0) {
        struct tl_carbonate k;
        double h = 1e-3;

        tl_carbonate_constants(t, &k);
        assert_int_equal(tl_solve_ph(&k, 0.0, 0.0, 0.0, &h), TL_OK);
        near_rel(h, sqrt(k.kw), 1e-11);
    }
}

static void strong_acid_and_strong_base_are_exact(void **state)
{
    struct tl_carbonate k;
    double h = 1e-8;

    (void)state;
    tl_carbonate_constants(25.0, &k);
    assert_int_equal(tl_solve_ph(&k, -10.0, 0.0, 0.0, &h), TL_OK);
    near_rel(h, 0.01, 1e-9);
    assert_int_equal(tl_solve_ph(&k, 10.0, 0.0, 0.0, &h), TL_OK);
    near_rel(k.kw / h, 0.01, 1e-9);
}

static void refuses_what_is_not_a_number(void **state)
{
    struct tl_carbonate k;
    double h = 1e-8;
    double bad = NAN;

    (void)state;
    tl_carbonate_constants(20.0, &k);
    assert_int_equal(tl_solve_ph(&k, NAN, 1.0, 0.0, &h), TL_E_SOLVER);
    assert_int_equal(tl_solve_ph(&k, 1.0, NAN, 0.0, &h), TL_E_SOLVER);
    assert_int_equal(tl_solve_ph(&k, 1.0, 1.0, NAN, &h), TL_E_SOLVER);
    assert_int_equal(tl_solve_ph(&k, INFINITY, 1.0, 0.0, &h), TL_E_SOLVER);
    assert_int_equal(tl_solve_ph(&k, 1.0, 1.0, 0.0, &bad), TL_E_SOLVER);
    near(h, 1e-8, 0.0);
    k.k1 = NAN;
    assert_int_equal(tl_solve_ph(&k, 1.0, 1.0, 0.0, &h), TL_E_SOLVER);
    near(h, 1e-8, 0.0);
}

static void more_alkalinity_raises_ph_and_more_carbon_lowers_it(void **state)
{
    struct tl_carbonate k;
    double h = 1e-8;
    double last = INFINITY;

    (void)state;
    tl_carbonate_constants(20.0, &k);
    for (double alk = -5.0; alk < 10.0; alk += 0.01) {
        assert_int_equal(tl_solve_ph(&k, alk, 3.0, 2.0, &h), TL_OK);
        assert_true(h < last);
        last = h;
    }
    last = 0.0;
    for (double tic = 0.0; tic < 10.0; tic += 0.01) {
        assert_int_equal(tl_solve_ph(&k, 3.0, tic, 2.0, &h), TL_OK);
        assert_true(h > last);
        last = h;
    }
}

static void carbon_dioxide_is_part_of_the_carbon(void **state)
{
    struct tl_carbonate k;

    (void)state;
    tl_carbonate_constants(20.0, &k);
    near_rel(tl_co2_mol_m3(&k, 1e-2, 3.0), 3.0, 1e-4);
    near_rel(tl_co2_mol_m3(&k, k.k1, 3.0), 1.5, 1e-3); /* half way at pH = pK1 */
    assert_true(tl_co2_mol_m3(&k, 1e-12, 3.0) < 1e-5);
    near_rel(tl_co2_saturation(&k, 420.0, 0.8), 0.8 * tl_co2_saturation(&k, 420.0, 1.0), 1e-14);
    near_rel(tl_co2_saturation(&k, 1e6, 1.0), 1e3 * k.kh, 1e-14);
}

static void the_ammonia_of_the_balance_is_the_ammonia_of_the_table(void **state)
{
    (void)state;
    for (double t = 0.0; t <= 40.0; t += 5.0) {
        struct tl_carbonate k;

        tl_carbonate_constants(t, &k);
        for (double ph = 5.0; ph <= 11.0; ph += 0.5)
            near_rel(tl_nh3_fraction(t, ph), k.ka / (k.ka + pow(10.0, -ph)), 1e-12);
        near_rel(tl_nh3_fraction(t, tl_ammonia_pka(t)), 0.5, 1e-14);
    }
}

static void nitrous_acid_follows_the_equation_and_stays_below_the_whole(void **state)
{
    (void)state;
    near_rel(tl_hno2(20.0, 8.0, 2.0), 2.0 / (exp(-2300.0 / 293.15) * 1e8), 1e-4);
    for (double ph = 0.0; ph <= 10.0; ph += 0.5) {
        assert_true(tl_hno2(20.0, ph, 2.0) < 2.0);
        assert_true(tl_hno2(20.0, ph + 0.5, 2.0) < tl_hno2(20.0, ph, 2.0));
        assert_true(tl_hno2(25.0, ph, 2.0) < tl_hno2(20.0, ph, 2.0));
    }
}

static void oxygen_falls_with_warmth_salt_and_height(void **state)
{
    (void)state;
    for (double t = 0.0; t < 40.0; t += 1.0) {
        const double here = tl_o2_saturation(t, 5.0, 0.9);

        assert_true(tl_o2_saturation(t + 1.0, 5.0, 0.9) < here);
        assert_true(tl_o2_saturation(t, 6.0, 0.9) < here);
        assert_true(tl_o2_saturation(t, 5.0, 0.89) < here);
    }
    near(tl_pressure_atm(0.0), 1.0, 0.0);
    assert_true(tl_pressure_atm(-100.0) > 1.0);
    assert_true(tl_pressure_atm(2000.0) < tl_pressure_atm(1000.0));
}

static void criteria_tighten_with_ph_and_warmth(void **state)
{
    (void)state;
    for (double t = 0.0; t <= 30.0; t += 1.0) {
        for (double ph = 6.5; ph <= 9.0; ph += 0.1) {
            for (int present = 0; present <= 1; present++) {
                const bool b = present != 0;

                assert_true(tl_epa_ammonia_acute(t, ph + 0.1, b) < tl_epa_ammonia_acute(t, ph, b));
                assert_true(tl_epa_ammonia_acute(t + 1.0, ph, b) <= tl_epa_ammonia_acute(t, ph, b));
                assert_true(tl_epa_ammonia_chronic(t, ph + 0.1, b) <
                            tl_epa_ammonia_chronic(t, ph, b));
                assert_true(tl_epa_ammonia_chronic(t + 1.0, ph, b) <=
                            tl_epa_ammonia_chronic(t, ph, b));
            }
            assert_true(tl_epa_ammonia_acute(t, ph, true) <= tl_epa_ammonia_acute(t, ph, false));
            struct tl_epa_warmth warmth;
            double acute, chronic;
            tl_epa_ammonia_warmth(t, &warmth);
            tl_epa_ammonia_at(&warmth, pow(10, -ph), &acute, &chronic);
            near_rel(acute, tl_epa_ammonia_acute(t, ph, false), 1e-13);
            near_rel(chronic, tl_epa_ammonia_chronic(t, ph, false), 1e-13);
            assert_true(tl_epa_ammonia_chronic(t, ph, true) < tl_epa_ammonia_chronic(t, ph, false));
        }
    }
    /* the caps: no change with temperature below them */
    near_rel(tl_epa_ammonia_chronic(0.0, 8.0, false), tl_epa_ammonia_chronic(7.0, 8.0, false), 0.0);
    near_rel(tl_epa_ammonia_acute(0.0, 8.0, false), tl_epa_ammonia_acute(10.0, 8.0, false), 0.0);
    near_rel(tl_epa_ammonia_acute(0.0, 8.0, true), tl_epa_ammonia_acute(15.0, 8.0, true), 0.0);
}

static void water_gets_thinner_and_diffusion_faster_with_warmth(void **state)
{
    (void)state;
    near_rel(tl_viscosity_pa_s(20.0), 1.002e-3, 1e-15);
    near_rel(tl_diffusivity_o2_m2_s(20.0), 2.01e-9, 1e-15);
    near_rel(tl_diffusivity_co2_m2_s(20.0), 1.67e-9, 1e-15);
    near_rel(tl_surface_tension_n_m(20.0), 0.0728, 1e-15);
    for (double t = 0.0; t < 40.0; t += 1.0) {
        assert_true(tl_viscosity_pa_s(t + 1.0) < tl_viscosity_pa_s(t));
        assert_true(tl_surface_tension_n_m(t + 1.0) < tl_surface_tension_n_m(t));
        assert_true(tl_diffusivity_o2_m2_s(t + 1.0) > tl_diffusivity_o2_m2_s(t));
        near_rel(tl_diffusivity_co2_m2_s(t) / tl_diffusivity_o2_m2_s(t), 1.67 / 2.01, 1e-14);
        near_rel(tl_diffusivity_o2_m2_s(t) * tl_viscosity_pa_s(t) / (t + 273.15),
                 2.01e-9 * 1.002e-3 / 293.15, 1e-13);
    }
}

static void wets_the_tower_of_the_reference_case(void **state)
{
    /* 4.542 m3/h over 0.27 m2, 16 trays of 76.2 mm lava rock, 24 degC */
    const struct tl_packing lava = {.area_m2_m3 = 200.0, .size_m = 0.03, .sigma_c_n_m = 0.061};
    const double q = 4.542 / 0.27;
    struct tl_wetting w;

    (void)state;
    tl_onda(&lava, q, 24.0, &w);
    near_rel(w.wetted_fraction, 0.508, 0.01);
    near_rel(w.wetted_fraction * 200.0 * 16.0 * 0.0762 * 0.27, 33.4, 0.01);
    /* oxygen transfer per metre of media: kL a_w/q */
    near_rel(w.kl_o2_m_s * 3600.0 * w.wetted_fraction * 200.0 / q, 3.19, 0.01);
    near_rel(w.kl_co2_m_s / w.kl_o2_m_s, sqrt(1.67 / 2.01), 1e-12);
}

static void more_water_wets_more_and_never_all(void **state)
{
    const struct tl_packing lava = {.area_m2_m3 = 200.0, .size_m = 0.03, .sigma_c_n_m = 0.061};
    double last = 0.0;

    (void)state;
    for (double q = 0.01; q < 100.0; q *= 1.5) {
        struct tl_wetting w;

        tl_onda(&lava, q, 20.0, &w);
        assert_true(w.wetted_fraction > last);
        assert_true(w.wetted_fraction < 1.0);
        assert_true(w.kl_o2_m_s > 0.0 && w.kl_co2_m_s > 0.0);
        last = w.wetted_fraction;
    }
}

/* The load that wets a share wets that share. */
static void wetting_is_inverted(void **state)
{
    (void)state;
    const struct tl_packing lava = {.area_m2_m3 = 200.0, .size_m = 0.03, .sigma_c_n_m = 0.061};
    struct tl_wetting w;
    for (double share = 0.2; share < 0.95; share += 0.1) {
        tl_onda(&lava, tl_load_that_wets_m_h(&lava, share, 15.0), 15.0, &w);
        near(w.wetted_fraction, share, 1e-12);
    }
    near(tl_least_wetting_load_m_h(&lava), 16.0, 1e-12);
    near(tl_least_wetting_load_m_h(&(struct tl_packing){100.0, 0.08, 0.061}), 12.0, 1e-12);
}

/* Ergun's equation holds for the load that drains, and its two ends are Kozeny's and Burke and
 * Plummer's: analytic. */
static void full_voids_drain_as_ergun_says(void **state)
{
    (void)state;
    const double weight = 998.2 * 9.81;
    const double e = 0.4;
    for (double a = 20.0; a < 1e6; a *= 3.0) {
        const double v = tl_most_drained_load_m_h(a, e, 20.0) / 3600.0;
        const double d = 6.0 * (1.0 - e) / a;
        const double viscous = 150.0 * tl_viscosity_pa_s(20.0) * 0.36 / (0.064 * d * d) * v;
        const double inertial = 1.75 * 998.2 * 0.6 / (0.064 * d) * v * v;
        near_rel(viscous + inertial, weight, 1e-12);
    }
    /* finer media drain less, tighter ones as well, and cold water slower */
    assert_true(tl_most_drained_load_m_h(400.0, e, 20.0) <
                tl_most_drained_load_m_h(200.0, e, 20.0));
    assert_true(tl_most_drained_load_m_h(200.0, 0.3, 20.0) <
                tl_most_drained_load_m_h(200.0, e, 20.0));
    assert_true(tl_most_drained_load_m_h(2000.0, e, 5.0) <
                tl_most_drained_load_m_h(2000.0, e, 25.0));

    const double half = tl_load_that_fills_m_h(200.0, e, 0.5, 20.0);
    near(tl_water_in_voids(200.0, e, half, 20.0), 0.5, 1e-12);
    near(tl_water_in_voids(200.0, e, 0.0, 20.0), 0.0, 0.0);
    near(tl_water_in_voids(200.0, e, 1e6, 20.0), 1.0, 0.0);
}

/* Nothing falls, nothing happens; beyond the top of the formula a deeper fall does no more. */
static void weirs_keep_to_their_formula(void **state)
{
    (void)state;
    near(tl_weir_ratio(1.0, 0.0, 20.0), 1.0, 0.0);
    near(tl_weir_ratio(0.0, 1.0, 20.0), 1.0, 0.0);
    near(tl_weir_ratio(1.0, 50.0, 20.0), tl_weir_ratio(1.0, 0.5 / 0.11, 20.0), 0.0);
    for (double h = 0.1; h < 4.5; h += 0.1)
        assert_true(tl_weir_ratio(1.0, h, 20.0) > tl_weir_ratio(1.0, h - 0.1, 20.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(solves_ph_from_any_guess_in_any_water),
        cmocka_unit_test(finds_the_ph_that_made_the_water),
        cmocka_unit_test(tic_and_ph_are_each_others_inverse),
        cmocka_unit_test(tic_is_negative_where_it_cannot_be),
        cmocka_unit_test(pure_water_is_neutral),
        cmocka_unit_test(strong_acid_and_strong_base_are_exact),
        cmocka_unit_test(refuses_what_is_not_a_number),
        cmocka_unit_test(more_alkalinity_raises_ph_and_more_carbon_lowers_it),
        cmocka_unit_test(carbon_dioxide_is_part_of_the_carbon),
        cmocka_unit_test(the_ammonia_of_the_balance_is_the_ammonia_of_the_table),
        cmocka_unit_test(nitrous_acid_follows_the_equation_and_stays_below_the_whole),
        cmocka_unit_test(oxygen_falls_with_warmth_salt_and_height),
        cmocka_unit_test(criteria_tighten_with_ph_and_warmth),
        cmocka_unit_test(water_gets_thinner_and_diffusion_faster_with_warmth),
        cmocka_unit_test(wets_the_tower_of_the_reference_case),
        cmocka_unit_test(more_water_wets_more_and_never_all),
        cmocka_unit_test(wetting_is_inverted),
        cmocka_unit_test(full_voids_drain_as_ergun_says),
        cmocka_unit_test(weirs_keep_to_their_formula),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
