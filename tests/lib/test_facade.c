/* The library as its users see it: read, run, hold, interrupt, ask. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "comma.h"
#include "near.h"
#include "small.h"
#include "towerloop/chem.h"
#include "towerloop/flat.h"
#include "towerloop/towerloop.h"

static struct tl_loop *read_small(const char *const *set, size_t sets)
{
    struct tl_loop *l = NULL;
    assert_int_equal(tl_loop_read_text(small_text, strlen(small_text), NULL, set, sets, &l), TL_OK);
    assert_string_equal(tl_loop_fault(l), "");
    return l;
}

static double value(struct tl_loop *l, const char *column)
{
    double v = NAN;
    assert_int_equal(tl_loop_value(l, column, &v), TL_OK);
    return v;
}

/* --- reading ------------------------------------------------------------------------------------ */

static void faults_come_with_the_handle(void **state)
{
    (void)state;
    static const char *const set[] = {"tower.trays=many", "pump.flow=3 m", "fish[0].count=200"};
    struct tl_loop *l = NULL;
    assert_int_equal(tl_loop_read_text(small_text, strlen(small_text), NULL, set, 3, &l),
                     TL_E_INPUT);
    assert_int_equal(tl_loop_messages(l), 2);
    assert_non_null(strstr(tl_loop_message(l, 0), "pump.flow"));
    assert_non_null(strstr(tl_loop_message(l, 1), "tower.trays"));
    assert_int_equal(tl_loop_message_is_fault(l, 1), 1);
    assert_null(tl_loop_message(l, 2));
    assert_int_equal(tl_loop_message_is_fault(l, 2), 0);
    assert_string_equal(tl_loop_fault(l), tl_loop_message(l, 0));

    /* nothing but asking and freeing goes on */
    double v = 0;
    char text[32];
    struct tl_loop_limit limit;
    assert_int_equal(tl_loop_run(l), TL_E_INPUT);
    assert_string_equal(tl_loop_fault(l), "the scenario could not be read");
    assert_int_equal(tl_loop_value(l, "time_d", &v), TL_E_INPUT);
    assert_int_equal(tl_loop_date(l, 0, text, sizeof text), TL_E_INPUT);
    assert_int_equal(tl_loop_limit(l, 0, &limit), TL_E_INPUT);
    assert_int_equal(tl_loop_advise(l), TL_E_INPUT);
    assert_int_equal(tl_loop_columns(l), 0);
    assert_int_equal(tl_loop_rows_planned(l), 0);
    assert_null(tl_loop_column_name(l, 0));
    assert_int_equal(tl_loop_find_column(l, "time_d"), -1);
    assert_null(tl_loop_column(l, 0));
    assert_null(tl_loop_verdict(l));
    assert_null(tl_loop_summary(l));
    assert_string_equal(tl_loop_title(l), "");
    assert_true(isnan(tl_loop_fish_lost_d(l)) && isnan(tl_loop_ready_d(l)));
    tl_loop_free(l);
    tl_loop_free(NULL);
}

static void a_missing_file_is_told(void **state)
{
    (void)state;
    struct tl_loop *l = NULL;
    assert_int_equal(tl_loop_read("/no/such/pond.yaml", NULL, 0, &l), TL_E_IO);
    assert_non_null(strstr(tl_loop_fault(l), "/no/such/pond.yaml: No such file"));
    tl_loop_free(l);
}

/* Files that a text names are found in the folder, and nowhere without one. */
static void files_of_a_text_need_a_folder(void **state)
{
    (void)state;
    static const char *const set[] = {"temperature={file: readings.csv}", "start=2027-05-01"};
    static const char *const folder[] = {BAD_DIR "/good", NULL, ""};
    static const int expected[] = {TL_OK, TL_E_INPUT, TL_E_INPUT};
    for (int i = 0; i < 3; i++) {
        struct tl_loop *l = NULL;
        assert_int_equal(tl_loop_read_text(small_text, strlen(small_text), folder[i], set, 2, &l),
                         expected[i]);
        tl_loop_free(l);
    }
}

/* --- running ------------------------------------------------------------------------------------ */

static void the_table_is_as_planned(void **state)
{
    (void)state;
    static const char *const every[] = {"report every=50 min", "report every=1 h",
                                        "report every=4 d",    "report every=7 min",
                                        "report every=0.1 d",  "report every=95 h"};
    for (size_t i = 0; i < sizeof every / sizeof *every; i++) {
        struct tl_loop *l = read_small(&every[i], 1);
        const size_t planned = tl_loop_rows_planned(l);
        assert_int_equal(tl_loop_rows(l), 0);
        assert_null(tl_loop_column(l, 0));
        assert_int_equal(tl_loop_run(l), TL_OK);
        assert_int_equal(tl_loop_rows(l), planned);
        const double *t = tl_loop_column(l, 0);
        near(t[0], 0.25, 0);
        near(t[planned - 1], 4.25, 0);
        for (size_t r = 1; r < planned; r++)
            assert_true(t[r] > t[r - 1]);
        tl_loop_free(l);
    }
}

static void values_follow_the_run(void **state)
{
    (void)state;
    struct tl_loop *l = read_small(NULL, 0);
    char text[20];
    near(tl_loop_start_d(l), 0.25, 0);
    near(tl_loop_end_d(l), 4.25, 0);
    near(tl_loop_time_d(l), 0.25, 0);
    assert_int_equal(tl_loop_date(l, 1.5, text, sizeof text), TL_OK);
    assert_string_equal(text, "2027-06-02T12:00:00");
    assert_int_equal(tl_loop_date(l, 1.5, text, sizeof text - 1), TL_E_INPUT);
    assert_int_equal(tl_loop_date(l, NAN, text, sizeof text), TL_E_INPUT);
    assert_int_equal(tl_loop_date(l, 1e9, text, sizeof text), TL_E_INPUT);

    near(value(l, "time_d"), 0.25, 0);
    near(value(l, "tank_no3_mgN_L"), 2, 1e-12);
    near(value(l, "fish_kg"), 6, 1e-12);
    near(value(l, "flow_m3_h"), 800 * 0.003785411784, 1e-9); /* US gallon: 231 cubic inches */

    assert_int_equal(tl_loop_advance(l, 2.5), TL_OK); /* the pump is off from 10:00 to 13:00 */
    near(tl_loop_time_d(l), 2.5, 0);
    near(value(l, "flow_m3_h"), 0, 0);
    assert_true(isnan(value(l, "tower_out_ph")));
    assert_true(value(l, "tank_no3_mgN_L") > 2.1);
    const size_t rows = tl_loop_rows(l);
    assert_int_equal(rows, 65); /* 2.25 d, each 50 min: 64.8 */
    const double *no3 = tl_loop_column(l, (size_t)tl_loop_find_column(l, "tank_no3_mgN_L"));
    const double *ph = tl_loop_column(l, (size_t)tl_loop_find_column(l, "tower_out_ph"));
    assert_true(no3[rows - 1] > no3[0]);
    assert_true(isnan(ph[rows - 1]) && ph[0] > 7);

    assert_int_equal(tl_loop_advance(l, 1), TL_OK); /* behind */
    near(tl_loop_time_d(l), 2.5, 0);
    double v = 0;
    assert_int_equal(tl_loop_advance(l, NAN), TL_E_INPUT);
    assert_int_equal(tl_loop_value(l, "tank_gold", &v), TL_E_INPUT);
    assert_string_equal(tl_loop_fault(l), "there is no column \"tank_gold\"");
    assert_null(tl_loop_verdict(l));
    assert_null(tl_loop_summary(l));
    assert_int_equal(tl_loop_set_rtol(l, 1e-6), TL_E_INPUT);

    assert_int_equal(tl_loop_run(l), TL_OK);
    assert_true(no3 == tl_loop_column(l, (size_t)tl_loop_find_column(l, "tank_no3_mgN_L")));
    near(no3[tl_loop_rows(l) - 1], value(l, "tank_no3_mgN_L"), 0);
    assert_int_equal(tl_loop_run(l), TL_OK);
    tl_loop_free(l);
}

static void the_judgement_is_told(void **state)
{
    (void)state;
    struct tl_loop *l = read_small(NULL, 0);
    struct tl_loop_limit limit;
    assert_int_equal(tl_loop_run(l), TL_OK);
    assert_string_equal(tl_loop_verdict(l), "caution");
    assert_int_equal(tl_loop_limits(), 17);
    assert_null(tl_loop_limit_name(17));
    int worst = 0;
    for (size_t i = 0; i < tl_loop_limits(); i++) {
        assert_int_equal(tl_loop_limit(l, i, &limit), TL_OK);
        assert_string_equal(limit.name, tl_loop_limit_name(i));
        worst = limit.grade > worst ? limit.grade : worst;
    }
    assert_int_equal(worst, 1);
    assert_int_equal(tl_loop_limit(l, 17, &limit), TL_E_INPUT);
    assert_true(isnan(tl_loop_fish_lost_d(l)));
    near(tl_loop_ready_d(l), 0.25, 0); /* a mature filter is from the start */

    /* the summary is the program's, and advice joins it */
    char *before = strdup(tl_loop_summary(l));
    assert_non_null(strstr(before, "\"verdict\": \"caution\""));
    assert_non_null(strstr(before, "\"advice\": []"));
    assert_int_equal(tl_loop_advise(l), TL_OK);
    assert_non_null(strstr(tl_loop_summary(l), "\"advice\": [\n"));
    free(before);
    tl_loop_free(l);
}

static void the_tolerance_counts(void **state)
{
    (void)state;
    struct tl_loop *coarse = read_small(NULL, 0);
    struct tl_loop *fine = read_small(NULL, 0);
    assert_int_equal(tl_loop_set_rtol(fine, 1e-11), TL_E_INPUT);
    assert_int_equal(tl_loop_set_rtol(fine, 0.1), TL_E_INPUT);
    assert_int_equal(tl_loop_set_rtol(fine, NAN), TL_E_INPUT);
    assert_int_equal(tl_loop_set_rtol(fine, 1e-8), TL_OK);
    assert_int_equal(tl_loop_run(coarse), TL_OK);
    assert_int_equal(tl_loop_run(fine), TL_OK);
    const double a = value(coarse, "tank_tan_mgN_L"), b = value(fine, "tank_tan_mgN_L");
    assert_true(a != b);
    near_rel(a, b, 1e-3);
    assert_non_null(strstr(tl_loop_summary(fine), "\"rtol\": 1e-8"));
    tl_loop_free(coarse);
    tl_loop_free(fine);
}

struct watcher {
    struct tl_loop *loop;
    int calls, stop_at;
    double last_d, share;
    int nested;
};

static int watch(void *arg, double t_d, double done)
{
    struct watcher *w = arg;
    w->calls++;
    assert_true(t_d > w->last_d && done > w->share && done <= 1);
    w->last_d = t_d;
    w->share = done;
    w->nested = tl_loop_run(w->loop);
    return w->calls == w->stop_at;
}

/* Stopped and gone on with, a run is bit for bit the one that was left alone. */
static void an_interruption_changes_nothing(void **state)
{
    (void)state;
    struct tl_loop *alone = read_small(NULL, 0);
    struct tl_loop *l = read_small(NULL, 0);
    struct watcher w = {.loop = l, .stop_at = 2};
    assert_int_equal(tl_loop_run(alone), TL_OK);
    tl_loop_watch(l, watch, &w);
    assert_int_equal(tl_loop_run(l), TL_E_INTERRUPTED);
    assert_int_equal(w.calls, 2);
    assert_int_equal(w.nested, TL_E_INPUT);
    assert_null(tl_loop_verdict(l));
    assert_non_null(strstr(tl_loop_fault(l), "stopped at day 2."));
    assert_true(tl_loop_time_d(l) > 2 && tl_loop_time_d(l) < 3);
    assert_int_equal(tl_loop_run(l), TL_OK);
    assert_int_equal(w.calls, 3);
    assert_string_equal(tl_loop_summary(l), tl_loop_summary(alone));
    for (size_t c = 0; c < tl_loop_columns(l); c++)
        assert_memory_equal(tl_loop_column(l, c), tl_loop_column(alone, c),
                            tl_loop_rows(l) * sizeof(double));
    tl_loop_free(alone);
    tl_loop_free(l);
}

static void the_locale_does_not_matter(void **state)
{
    (void)state;
    struct tl_loop *l = read_small(NULL, 0), *other;
    assert_int_equal(tl_loop_run(l), TL_OK);
    assert_int_equal(tl_loop_advise(l), TL_OK);
    if (!comma_locale_set())
        skip();
    other = read_small(NULL, 0);
    assert_int_equal(tl_loop_run(other), TL_OK);
    assert_int_equal(tl_loop_advise(other), TL_OK);
    assert_string_equal(tl_loop_summary(other), tl_loop_summary(l));
    assert_int_equal(tl_loop_set_rtol(other, 0.5), TL_E_INPUT);
    comma_locale_reset();
    tl_loop_free(other);
    tl_loop_free(l);
}

/* --- flat --------------------------------------------------------------------------------------- */

/* The functions themselves are tested in test_chem. */
static void flat_chemistry(void **state)
{
    (void)state;
    const int n = 2;
    const double t[] = {20, 25}, ph[] = {8, 7}, salt[] = {0, 35}, p[] = {1, 0.9}, z[] = {0, 180};
    double out[3] = {NAN, NAN, 42};
    tl_flat_nh3_share(&n, t, ph, out);
    for (int i = 0; i < n; i++)
        near(out[i], tl_nh3_fraction(t[i], ph[i]), 0);
    tl_flat_o2_saturation(&n, t, salt, p, out);
    for (int i = 0; i < n; i++)
        near(out[i], tl_o2_saturation(t[i], salt[i], p[i]), 0);
    tl_flat_pressure(&n, z, out);
    for (int i = 0; i < n; i++)
        near(out[i], tl_pressure_atm(z[i]), 0);
    near(out[2], 42, 0);
}

enum { FAULT = 400 };

static void flat_run_is_the_run(void **state)
{
    (void)state;
    char folder[] = "", fault[FAULT], verdict[TL_FLAT_TEXT], change[] = "report every=2 h";
    char *scenario = strdup(small_text);
    char *folders = folder, *faults = fault, *verdicts = verdict, *set = change;
    const int sets = 1, size = FAULT;
    int rows, columns, limits, status;
    double ready, lost;

    tl_flat_size(&scenario, &folders, &set, &sets, &rows, &columns, &limits, &status, &faults,
                 &size);
    assert_int_equal(status, TL_OK);
    assert_string_equal(fault, "");
    assert_int_equal(rows, 49);
    assert_int_equal(limits, 17);

    char(*text)[TL_FLAT_TEXT] = calloc((size_t)columns, sizeof *text);
    char **name = calloc((size_t)columns, sizeof *name);
    for (int c = 0; c < columns; c++)
        name[c] = text[c];
    tl_flat_column_names(&scenario, &folders, &set, &sets, &columns, name, &status, &faults, &size);
    assert_int_equal(status, TL_OK);

    const size_t cells = (size_t)rows * (size_t)columns;
    double *table = calloc(cells + 1, sizeof *table), worst[17];
    table[cells] = 42;
    tl_flat_run(&scenario, &folders, &set, &sets, &rows, &columns, &limits, table, worst, &verdicts,
                &ready, &lost, &status, &faults, &size);
    assert_int_equal(status, TL_OK);
    near(table[cells], 42, 0);

    const char *const edits[] = {change};
    struct tl_loop *l = read_small(edits, 1);
    struct tl_loop_limit limit;
    assert_int_equal(tl_loop_run(l), TL_OK);
    assert_int_equal((size_t)columns, tl_loop_columns(l));
    for (int c = 0; c < columns; c++) {
        assert_string_equal(name[c], tl_loop_column_name(l, (size_t)c));
        assert_memory_equal(table + c * rows, tl_loop_column(l, (size_t)c),
                            (size_t)rows * sizeof *table);
    }
    assert_string_equal(verdict, tl_loop_verdict(l));
    near(ready, tl_loop_ready_d(l), 0);
    assert_true(isnan(lost));
    tl_flat_limit_names(&limits, name);
    for (size_t i = 0; i < 17; i++) {
        assert_int_equal(tl_loop_limit(l, i, &limit), TL_OK);
        assert_string_equal(name[i], limit.name);
        assert_memory_equal(&worst[i], &limit.worst, sizeof limit.worst);
    }
    tl_loop_free(l);

    /* room for another scenario: nothing is written into it */
    const int more = rows + 1;
    table[0] = 42;
    tl_flat_run(&scenario, &folders, &set, &sets, &more, &columns, &limits, table, worst, &verdicts,
                &ready, &lost, &status, &faults, &size);
    assert_int_equal(status, TL_E_INPUT);
    assert_string_equal(fault, "rows and columns are not what tl_flat_size() answered");
    near(table[0], 42, 0);
    assert_string_equal(verdict, "");
    assert_true(isnan(worst[0]));
    free(table);
    free(name);
    free(text);
    free(scenario);
}

static void flat_faults(void **state)
{
    (void)state;
    char folder[] = "", fault[FAULT],
         text[] = "format: 1\nlength: 3 m\ntitle: K\xc3\xb6y\npump: 3\n";
    char *scenario = text, *folders = folder, *faults = fault;
    const int sets = 0;
    int rows = 7, columns, limits, status;
    for (int size = FAULT; size > 0; size /= 2) {
        memset(fault, 'x', sizeof fault);
        tl_flat_size(&scenario, &folders, NULL, &sets, &rows, &columns, &limits, &status, &faults,
                     &size);
        assert_int_equal(status, TL_E_INPUT);
        assert_int_equal(rows, 0);
        assert_true(strlen(fault) < (size_t)size);
        if (size < FAULT)
            assert_int_equal(fault[size], 'x');
    }
    const int size = FAULT;
    tl_flat_size(&scenario, &folders, NULL, &sets, &rows, &columns, &limits, &status, &faults,
                 &size);
    assert_non_null(strstr(fault, "scenario:2:9: length: "));
    assert_non_null(strstr(fault, "\nscenario:4:7: pump: "));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(faults_come_with_the_handle),
        cmocka_unit_test(a_missing_file_is_told),
        cmocka_unit_test(files_of_a_text_need_a_folder),
        cmocka_unit_test(the_table_is_as_planned),
        cmocka_unit_test(values_follow_the_run),
        cmocka_unit_test(the_judgement_is_told),
        cmocka_unit_test(the_tolerance_counts),
        cmocka_unit_test(an_interruption_changes_nothing),
        cmocka_unit_test(the_locale_does_not_matter),
        cmocka_unit_test(flat_chemistry),
        cmocka_unit_test(flat_run_is_the_run),
        cmocka_unit_test(flat_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
