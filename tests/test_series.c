/* series.csv from snapshots made by hand, number by number. */
#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "near.h"
#include "number.h"
#include "towerloop/chem.h"
#include "towerloop/series.h"
#include "towerloop/status.h"

#define TRAYS       2
#define COLUMNS_MAX 200

static char folder[64], path[96], partial[112];

static int make_folder(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/tl_series_XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(path, sizeof path, "%s/series.csv", folder);
    snprintf(partial, sizeof partial, "%s.partial", path);
    return 0;
}

static int remove_folder(void **state)
{
    (void)state;
    remove(path);
    return rmdir(folder);
}

/* A snapshot whose every number is different. */
static double tray_film[TRAYS][TL_NFILM];
static double tray_filled[TRAYS], tray_o2[TRAYS], tray_tan[TRAYS], tray_no2[TRAYS],
    tray_airless[TRAYS];

static struct tl_snapshot snapshot(double t_d)
{
    struct tl_snapshot s = {
        .t_d = t_d,
        .temperature_degC = 20,
        .pressure_atm = 1,
        .flow_m3_d = 120,
        .tower_flow_m3_d = 60,
        .tower_on = true,
        .tank_ph = 7.5,
        .chamber_ph = 7.4,
        .tower_out_ph = 7.9,
        .trays = TRAYS,
        .tray = tray_film,
        .tray_voids_filled = tray_filled,
        .tray_o2 = tray_o2,
        .tray_tan = tray_tan,
        .tray_no2 = tray_no2,
        .tray_airless = tray_airless,
        .sludge_gCOD = 321,
        .fish_kg = 40,
        .feed_g_d = 400,
        .air_degC = -3,
        .evaporation_m3_d = 0.04,
        .excreted_gN_d = 17,
    };
    for (int c = 0; c < TL_NWATER; c++) {
        s.tank[c] = 1 + c;
        s.chamber[c] = 101 + c;
        s.tower_out[c] = 201 + c;
    }
    for (int c = 0; c < TL_NFILM; c++) {
        s.tank_wall[c] = 0.5 + c;
        s.chamber_wall[c] = 10.5 + c;
        for (int t = 0; t < TRAYS; t++)
            tray_film[t][c] = 20.5 + 10 * t + c;
    }
    tray_filled[0] = 0.25;
    tray_filled[1] = 0.5;
    tray_o2[0] = 6.5;
    tray_o2[1] = 5.5;
    tray_tan[0] = 0.75;
    tray_tan[1] = -1e-9; /* a trace below zero is none */
    tray_no2[0] = 0.375;
    tray_no2[1] = NAN;
    tray_airless[0] = 0.125;
    tray_airless[1] = NAN;
    return s;
}

static char *read_file(const char *name)
{
    static char text[65536];
    FILE *f = fopen(name, "rb");
    assert_non_null(f);
    size_t n = fread(text, 1, sizeof text - 1, f);
    text[n] = '\0';
    fclose(f);
    return text;
}

/* Splits a line at its commas, in place. */
static int split(char *line, char **cell)
{
    int n = 0;
    for (char *p = line; p; n++) {
        cell[n] = p;
        p = strchr(p, ',');
        if (p)
            *p++ = '\0';
    }
    return n;
}

static const char *cell_of(const char *name, char **header, char **row, int n)
{
    for (int i = 0; i < n; i++) {
        if (strcmp(header[i], name) == 0)
            return row[i];
    }
    fail_msg("no column %s", name);
    return "";
}

static const struct tl_series_shape plain = {TRAYS, false, false};

static void test_columns_and_values(void **state)
{
    (void)state;
    const struct tl_date start = {2027, 5, 1, 6 * 3600};
    struct tl_series *s = NULL;
    assert_int_equal(tl_series_open(path, &start, plain, &s), TL_OK);
    struct tl_snapshot snap = snapshot(0.25);
    assert_int_equal(tl_series_add(s, &snap), TL_OK);
    snap.t_d = 30.5;
    snap.tower_on = false;
    snap.tank[TL_NO2] = -1e-9;
    snap.tank[TL_ALK] = -0.1;
    assert_int_equal(tl_series_add(s, &snap), TL_OK);
    assert_int_equal(access(path, F_OK), -1); /* not there before it is whole */
    assert_int_equal(tl_series_close(s), TL_OK);
    assert_int_equal(access(partial, F_OK), -1);

    char *text = read_file(path);
    assert_null(strchr(text, '\r'));
    char *line[4], *at = text;
    for (int i = 0; i < 3; i++) {
        line[i] = at;
        at = strchr(at, '\n');
        assert_non_null(at);
        *at++ = '\0';
    }
    assert_int_equal(*at, '\0'); /* three lines, the last one ended */

    static const char expected_start[] =
        "time_d,time_iso,tank_tan_mgN_L,tank_nh3_mgN_L,tank_no2_mgN_L,tank_no3_mgN_L,tank_o2_mg_L,"
        "tank_o2_sat_pct,tank_ph,tank_alkalinity_mgCaCO3_L,tank_co2_mg_L,"
        "tank_dissolved_organics_mgCOD_L,tank_solids_mgCOD_L,tank_chloride_mg_L,"
        "tank_chlorine_mgCl2_L,chamber_tan_mgN_L,";
    static const char expected_end[] =
        "tower_out_chlorine_mgCl2_L,temperature_degC,flow_m3_h,tray01_aob_gCOD_m2,"
        "tray01_nob_gCOD_m2,tray01_het_gCOD_m2,tray01_trapped_gCOD_m2,tray01_inert_gCOD_m2,"
        "tray01_voids_filled_pct,tray02_aob_gCOD_m2,tray02_nob_gCOD_m2,tray02_het_gCOD_m2,"
        "tray02_trapped_gCOD_m2,tray02_inert_gCOD_m2,tray02_voids_filled_pct,tank_wall_aob_gCOD_m2,"
        "tank_wall_nob_gCOD_m2,tank_wall_het_gCOD_m2,tank_wall_trapped_gCOD_m2,"
        "tank_wall_inert_gCOD_m2,chamber_wall_aob_gCOD_m2,chamber_wall_nob_gCOD_m2,"
        "chamber_wall_het_gCOD_m2,chamber_wall_trapped_gCOD_m2,chamber_wall_inert_gCOD_m2,"
        "chamber_sludge_gCOD,fish_kg,feed_g_d,air_temperature_degC,evaporation_L_d,"
        "excreted_tan_gN_d,tray01_o2_mg_L,tray01_film_without_oxygen_pct,tray01_tan_mgN_L,"
        "tray01_no2_mgN_L,tray02_o2_mg_L,tray02_film_without_oxygen_pct,tray02_tan_mgN_L,"
        "tray02_no2_mgN_L";
    assert_memory_equal(line[0], expected_start, sizeof expected_start - 1);
    assert_string_equal(line[0] + strlen(line[0]) - (sizeof expected_end - 1), expected_end);

    char *header[COLUMNS_MAX], *row[COLUMNS_MAX], *off[COLUMNS_MAX];
    int n = split(line[0], header);
    assert_int_equal(n, 2 + 3 * 13 + 2 + TRAYS * 6 + 2 * 5 + 6 + TRAYS * 4);
    assert_int_equal(split(line[1], row), n);
    assert_int_equal(split(line[2], off), n);
    assert_string_equal(row[0], "0.250000");
    assert_string_equal(row[1], "2027-05-01T06:00:00");
    assert_string_equal(off[0], "30.500000");
    assert_string_equal(off[1], "2027-05-31T12:00:00");

#define VALUE(name) strtod(cell_of(name, header, row, n), NULL)
    near(VALUE("tank_tan_mgN_L"), 1, 0);
    near_rel(VALUE("tank_nh3_mgN_L"), tl_nh3_fraction(20, 7.5), 1e-5);
    near(VALUE("tank_no3_mgN_L"), 3, 0);
    near(VALUE("chamber_o2_mg_L"), 104, 0);
    near_rel(VALUE("tank_o2_sat_pct"), 100 * 4 / 9.092, 1e-3); /* fresh water, 20 degC, 1 atm */
    near(VALUE("tank_ph"), 7.5, 0);
    near(VALUE("tray02_o2_mg_L"), 5.5, 0);
    near(VALUE("tray01_film_without_oxygen_pct"), 12.5, 0);
    assert_string_equal(cell_of("tray02_film_without_oxygen_pct", header, row, n), "");
    near(VALUE("tray01_tan_mgN_L"), 0.75, 0);
    assert_string_equal(cell_of("tray02_tan_mgN_L", header, row, n), "0");
    near(VALUE("tray01_no2_mgN_L"), 0.375, 0);
    assert_string_equal(cell_of("tray02_no2_mgN_L", header, row, n), "");
    near(VALUE("excreted_tan_gN_d"), 17, 0);
    near(VALUE("chamber_ph"), 7.4, 0);
    near(VALUE("tower_out_ph"), 7.9, 0);
    near_rel(VALUE("tank_alkalinity_mgCaCO3_L"), 5 * 50.04, 1e-6);
    near(VALUE("tank_dissolved_organics_mgCOD_L"), 7, 0);
    near(VALUE("tank_solids_mgCOD_L"), 8 + 9, 0);
    near(VALUE("tower_out_chloride_mg_L"), 210, 0);
    near(VALUE("tower_out_chlorine_mgCl2_L"), 211, 0);
    near(VALUE("temperature_degC"), 20, 0);
    near(VALUE("flow_m3_h"), 5, 0);
    near(VALUE("tray01_aob_gCOD_m2"), 20.5, 0);
    near(VALUE("tray02_inert_gCOD_m2"), 34.5, 0);
    near(VALUE("tray02_voids_filled_pct"), 50, 0);
    near(VALUE("tank_wall_het_gCOD_m2"), 2.5, 0);
    near(VALUE("chamber_wall_nob_gCOD_m2"), 11.5, 0);
    near(VALUE("chamber_sludge_gCOD"), 321, 0);
    near(VALUE("fish_kg"), 40, 0);
    near(VALUE("feed_g_d"), 400, 0);
    near(VALUE("air_temperature_degC"), -3, 0);
    near(VALUE("evaporation_L_d"), 40, 0);
#undef VALUE

    /* the standing tower has no outlet; a trace below zero is zero, negative alkalinity is real */
    assert_string_equal(cell_of("tower_out_tan_mgN_L", header, off, n), "");
    assert_string_equal(cell_of("tower_out_chlorine_mgCl2_L", header, off, n), "");
    assert_string_equal(cell_of("tank_no2_mgN_L", header, off, n), "0");
    near_rel(strtod(cell_of("tank_alkalinity_mgCaCO3_L", header, off, n), NULL), -5.004, 1e-6);
    near(strtod(cell_of("temperature_degC", header, off, n), NULL), 20, 0);
}

static void test_abort_leaves_nothing(void **state)
{
    (void)state;
    const struct tl_date start = {2027, 5, 1, 0};
    struct tl_series *s = NULL;
    struct tl_snapshot snap = snapshot(0);
    assert_int_equal(tl_series_open(path, &start, plain, &s), TL_OK);
    assert_int_equal(tl_series_add(s, &snap), TL_OK);
    tl_series_abort(s);
    tl_series_abort(NULL);
    assert_int_equal(access(path, F_OK), -1);
    assert_int_equal(access(partial, F_OK), -1);
    assert_int_equal(tl_series_open("/nonexistent/folder/series.csv", &start, plain, &s), TL_E_IO);
}

static void test_full_disk_is_noticed(void **state)
{
    (void)state;
    if (access("/dev/full", W_OK) != 0)
        skip();
    /* the partial file is a link to a device that never has room */
    const struct tl_date start = {2027, 5, 1, 0};
    struct tl_series *s = NULL;
    struct tl_snapshot snap = snapshot(0);
    assert_int_equal(symlink("/dev/full", partial), 0);
    assert_int_equal(tl_series_open(path, &start, plain, &s), TL_OK);
    tl_series_add(s, &snap);
    assert_int_equal(tl_series_close(s), TL_E_IO);
    assert_int_equal(access(path, F_OK), -1);
}

static void test_numbers(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *text;
    } row[] = {
        {0, "0"},
        {1, "1"},
        {-1.5, "-1.5"},
        {0.1, "0.1"},
        {100, "100"},
        {123456, "123456"},
        {1234567, "1.23457e+06"},
        {999999.7, "1e+06"},
        {0.0001, "0.0001"},
        {0.00001, "1e-05"},
        {0.0123456789, "0.0123457"},
        {7.5, "7.5"},
        {1e300, "1e+300"},
        {-1.25e-300, "-1.25e-300"},
    };
    char text[TL_NUMBER_SIZE];
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        assert_int_equal(tl_number_write(text, row[i].value), strlen(row[i].text));
        assert_string_equal(text, row[i].text);
    }
    assert_int_equal(tl_number_write(text, NAN), 0);
    assert_int_equal(tl_number_write(text, INFINITY), 0);

    assert_int_equal(tl_number_write(text, -INFINITY), 0);
    assert_int_equal(tl_number_write(text, -0.0), 1);
    assert_string_equal(text, "0");
}

/* The tests run in the C locale, so printf is the reference. */
static void same_as_printf(double value)
{
    char text[TL_NUMBER_SIZE], reference[TL_NUMBER_SIZE];
    snprintf(reference, sizeof reference, "%.6g", value);
    size_t length = tl_number_write(text, value);
    if (length != strlen(reference) || memcmp(text, reference, length + 1) != 0)
        fail_msg("%a: '%s' instead of '%s'", value, text, reference);
}

/* A value and the two doubles beside it, of both signs. */
static void same_around(double value)
{
    const double near_by[] = {value, nextafter(value, INFINITY), nextafter(value, -INFINITY)};
    for (size_t i = 0; i < 3; i++) {
        if (!isfinite(near_by[i]) || near_by[i] == 0)
            continue;
        same_as_printf(near_by[i]);
        same_as_printf(-near_by[i]);
    }
}

static uint64_t next_random(uint64_t *seed)
{
    /* splitmix64 (Steele, Lea, Flood 2014, Fast splittable pseudorandom number generators) */
    uint64_t z = *seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static void test_numbers_are_those_of_printf(void **state)
{
    (void)state;
    uint64_t seed = 1;

    /* any double at all */
    for (int i = 0; i < 1000000; i++) {
        uint64_t bits = next_random(&seed);
        double value;
        memcpy(&value, &bits, sizeof value);
        if (isfinite(value) && value != 0)
            same_as_printf(value);
    }
    /* the sizes that a run has, and values with few binary digits, which make exact ties */
    for (int i = 0; i < 1000000; i++) {
        double unit = (double)(next_random(&seed) >> 11) / 9007199254740992.0;
        same_as_printf(pow(10, -8 + 16 * unit) * (1 + unit));
        same_as_printf(ldexp((double)(next_random(&seed) >> 40), i % 64 - 44));
    }
    /* half-way between two numbers of six digits, as near as a double comes to it */
    for (int i = 0; i < 200000; i++) {
        double half = 100000.5 + (double)(next_random(&seed) % 900000);
        same_around(half);
        same_around(half * pow(10, (double)(i % 40 - 20)));
        same_around(half * pow(10, (double)(i % 600 - 310)));
    }
    /* where the number of digits changes, and the ends of the range of doubles */
    for (int k = -323; k <= 308; k++) {
        char power[16], below[16], *end;
        snprintf(power, sizeof power, "1e%d", k);
        snprintf(below, sizeof below, "9.999995e%d", k);
        same_around(strtod(power, &end));
        same_around(strtod(below, &end));
    }
    same_around(DBL_MIN);
    same_around(DBL_MAX);
    same_around(4.9406564584124654e-324);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_columns_and_values, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(test_abort_leaves_nothing, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(test_full_disk_is_noticed, make_folder, remove_folder),
        cmocka_unit_test(test_numbers),
        cmocka_unit_test(test_numbers_are_those_of_printf),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
