/* Logs of measurements: what a good one gives, what bad ones are answered with (bad/measured/NAME.csv
 * and the exact messages in NAME.expect), and lines written and read back. */
#include <dirent.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "comma.h"
#include "near.h"
#include "text.h"
#include "towerloop/measured.h"
#include "towerloop/status.h"

#define FOLDER BAD_DIR "/measured"

static const struct tl_date start = {.year = 2027, .month = 5, .day = 1, .second = 6 * 3600};

static char *messages(const struct tl_diag *d)
{
    struct tl_text all = {0};
    tl_text_add(&all, "");
    for (size_t i = 0; i < d->count; i++) {
        char *one = tl_diag_text(&d->message[i]);
        assert_non_null(one);
        tl_text_addf(&all, "%s\n", one);
        free(one);
    }
    assert_false(all.failed);
    return all.data;
}

/* --- a good log ---------------------------------------------------------------------------- */

static void expect_row(const struct tl_measured *m, double t_d, enum tl_measured_quantity quantity,
                       enum tl_measured_place place, enum tl_measured_kind kind, double low,
                       double high)
{
    near(m->t_d, t_d, 1e-12);
    assert_int_equal(m->quantity, quantity);
    assert_int_equal(m->place, place);
    assert_int_equal(m->kind, kind);
    near(m->low, low, 1e-12 + 1e-6 * fabs(low));
    near(m->high, high, 1e-12 + 1e-6 * fabs(high));
}

/* Days count from 00:00 of the start's date. Molar masses as in the units' table (IUPAC 2021). */
static void good_log(void **state)
{
    const double morning = 2 + 8.0 / 24;
    struct tl_measured_log log;
    struct tl_diag diag;
    (void)state;
    tl_diag_init(&diag);
    assert_int_equal(tl_measured_read(FOLDER "/good.csv", &start, &log, &diag), TL_OK);
    /* a date alone is midnight, and it is said */
    assert_int_equal(diag.count, 1);
    assert_int_equal(diag.errors, 0);
    assert_non_null(strstr(diag.message[0].what, "taken as 00:00"));
    assert_int_equal(log.rows, 8);
    assert_int_equal(log.blank, 1);
    const struct tl_measured *m = log.row;
    expect_row(&m[0], 6.5 / 24, TL_MEASURED_TEMPERATURE, TL_PLACE_TANK, TL_MEASURED_AT, 20, 20);
    near(m[0].error, 0.5, 1e-12); /* 0.9 degF of a difference */
    expect_row(&m[1], 1, TL_MEASURED_TAN, TL_PLACE_TANK, TL_MEASURED_BETWEEN, 1, 2);
    expect_row(&m[2], morning, TL_MEASURED_TAN, TL_PLACE_TANK, TL_MEASURED_BETWEEN, 0.25, 0.5);
    assert_true(isnan(m[2].error));
    assert_string_equal(m[2].method, "kit");
    assert_int_equal(m[2].line, 2);
    expect_row(&m[3], morning, TL_MEASURED_NO2, TL_PLACE_TANK, TL_MEASURED_BELOW, 0,
               0.25 * 14.007 / 46.005);
    expect_row(&m[4], morning, TL_MEASURED_PH, TL_PLACE_TANK, TL_MEASURED_AT, 7.8, 7.8);
    near(m[4].error, 0.2, 1e-15);
    expect_row(&m[5], morning, TL_MEASURED_O2, TL_PLACE_TOWER_OUT, TL_MEASURED_AT, 8.1, 8.1);
    near(m[5].error, 0.405, 1e-12);
    /* 1 dKH is 10 mg/L of CaO, 56.077 g/mol, two equivalents */
    expect_row(&m[6], morning, TL_MEASURED_ALKALINITY, TL_PLACE_CHAMBER, TL_MEASURED_AT,
               120 / 56.077, 120 / 56.077);
    near(m[6].error, 20 / 56.077, 1e-6);
    assert_string_equal(m[6].method, "kit \"drops\"");
    expect_row(&m[7], morning, TL_MEASURED_NO3, TL_PLACE_TANK, TL_MEASURED_ABOVE,
               100 * 14.007 / 62.004, tl_measured_row(TL_MEASURED_NO3)->most);
    tl_measured_free(&log);
    tl_diag_free(&diag);
}

static void numbers_have_a_point_in_any_locale(void **state)
{
    (void)state;
    if (!comma_locale_set())
        skip();
    good_log(state);
    comma_locale_reset();
}

/* --- bad ones ------------------------------------------------------------------------------ */

static bool is_answered(const char *name)
{
    char path[512], text[16384];
    struct tl_measured_log log;
    struct tl_diag diag;
    tl_diag_init(&diag);
    tl_format(path, sizeof path, FOLDER "/%s", name);
    const int status = tl_measured_read(path, &start, &log, &diag);
    char *said = messages(&diag);
    for (char *at; (at = strstr(said, FOLDER "/"));)
        memmove(at, at + strlen(FOLDER "/"), strlen(at + strlen(FOLDER "/")) + 1);
    tl_format(path, sizeof path, FOLDER "/%.*s.expect", (int)strlen(name) - 4, name);
    if (getenv("TOWERLOOP_WRITE_EXPECT")) { /* to look at after a change of messages */
        FILE *f = fopen(path, "w");
        assert_non_null(f);
        fputs(said, f);
        fclose(f);
    }
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    const bool right = status == TL_E_INPUT && log.row == NULL && strcmp(said, text) == 0;
    if (!right)
        print_error("%s: is answered with\n%sinstead of\n%s", name, said, text);
    free(said);
    tl_diag_free(&diag);
    return right;
}

static void bad_logs(void **state)
{
    size_t files = 0, wrong = 0;
    (void)state;
    DIR *dir = opendir(FOLDER);
    assert_non_null(dir);
    for (struct dirent *e; (e = readdir(dir));) {
        const size_t length = strlen(e->d_name);
        if (length < 5 || strcmp(e->d_name + length - 4, ".csv") != 0 ||
            strcmp(e->d_name, "good.csv") == 0)
            continue;
        files++;
        wrong += !is_answered(e->d_name);
    }
    closedir(dir);
    assert_true(files >= 6);
    assert_int_equal(wrong, 0);
}

static void expect_refused(const char *text, size_t length, size_t errors, const char *last)
{
    struct tl_measured_log log;
    struct tl_diag diag;
    tl_diag_init(&diag);
    assert_int_equal(tl_measured_read_text("log.csv", text, length, &start, &log, &diag),
                     TL_E_INPUT);
    assert_null(log.row);
    assert_int_equal(diag.errors, errors);
    char *said = messages(&diag);
    if (!strstr(said, last))
        fail_msg("%s", said);
    free(said);
    tl_diag_free(&diag);
}

static void bounds(void **state)
{
    struct tl_text text = {0};
    struct tl_measured_log log;
    struct tl_diag diag;
    (void)state;
    tl_text_add(&text, "time_d,quantity,value,unit\n");
    for (int i = 0; i < 100000; i++)
        tl_text_addf(&text, "%d,pH,7,\n", i);
    tl_diag_init(&diag);
    assert_int_equal(tl_measured_read_text("log.csv", text.data, text.length, &start, &log, &diag),
                     TL_OK);
    assert_int_equal(log.rows, 100000);
    tl_measured_free(&log);
    tl_diag_free(&diag);
    tl_text_add(&text, "5,pH,7,\n");
    expect_refused(text.data, text.length, 1, "log.csv:100002:1: too many readings");
    tl_text_free(&text);

    /* every line is wrong: 20 are told of */
    tl_text_add(&text, "time_d,quantity,value,unit\n");
    for (int i = 0; i < 1000; i++)
        tl_text_add(&text, "1,pH,none,\n");
    expect_refused(text.data, text.length, 20, "log.csv:21:6: \"none\" is not a reading");
    tl_text_free(&text);

    static const char nul[] = "time_d,quantity,value,unit\n1,pH,7,\0\n";
    expect_refused(nul, sizeof nul - 1, 1, "not UTF-8 text");

    tl_diag_init(&diag);
    assert_int_equal(tl_measured_read(FOLDER "/no such.csv", &start, &log, &diag), TL_E_INPUT);
    assert_int_equal(tl_measured_read(FOLDER, &start, &log, &diag), TL_E_INPUT);
    assert_int_equal(diag.errors, 2);
    tl_diag_free(&diag);
}

/* --- there and back ------------------------------------------------------------------------ */

static double unlike(double a, double b)
{
    return fabs(a - b) / fmax(1e-3, fabs(a));
}

/* One reading of each quantity, place and kind. */
static size_t make_rows(struct tl_measured *row)
{
    size_t n = 0;
    for (int q = 0; q < TL_NMEASURED; q++)
        for (int p = 0; p < TL_NPLACE; p++)
            for (int k = TL_MEASURED_AT; k <= TL_MEASURED_BETWEEN; k++) {
                const struct tl_measured_row *r = tl_measured_row((enum tl_measured_quantity)q);
                const double span = r->most - r->least;
                struct tl_measured *m = &row[n];
                *m = (struct tl_measured){.t_d = (double)n / 96,
                                          .quantity = (enum tl_measured_quantity)q,
                                          .place = (enum tl_measured_place)p,
                                          .kind = (enum tl_measured_kind)k,
                                          .low = r->least + 0.1234567 * span,
                                          .high = r->least + 0.1234567 * span,
                                          .error = n % 2 ? NAN : 0.0123 * span};
                if (k == TL_MEASURED_BELOW)
                    m->low = r->least;
                if (k == TL_MEASURED_ABOVE)
                    m->high = r->most;
                if (k == TL_MEASURED_BETWEEN)
                    m->high += 0.1 * span;
                if (n % 3)
                    tl_format(m->method, sizeof m->method, "kit, \"%zu\"", n);
                n++;
            }
    return n;
}

static void there_and_back(void **state)
{
    static struct tl_measured row[TL_NMEASURED * TL_NPLACE * 4];
    const size_t rows = make_rows(row);
    (void)state;
    for (int units = TL_METRIC; units <= TL_US; units++) {
        struct tl_text text = {0};
        struct tl_measured_log log;
        struct tl_diag diag;
        tl_diag_init(&diag);
        tl_measured_add_header(&text);
        for (size_t i = 0; i < rows; i++)
            tl_measured_add(&text, &row[i], &start, (enum tl_unit_system)units, false);
        assert_int_equal(
            tl_measured_read_text("log.csv", text.data, text.length, &start, &log, &diag), TL_OK);
        assert_int_equal(diag.count, 0);
        assert_int_equal(log.rows, rows);
        for (size_t i = 0; i < rows; i++) {
            const struct tl_measured *m = &log.row[i];
            near(m->t_d, row[i].t_d, 1e-5);
            assert_int_equal(m->quantity, row[i].quantity);
            assert_int_equal(m->place, row[i].place);
            assert_int_equal(m->kind, row[i].kind);
            assert_true(unlike(m->low, row[i].low) < 1e-5);
            assert_true(unlike(m->high, row[i].high) < 1e-5);
            assert_int_equal(isnan(m->error), isnan(row[i].error));
            assert_false(unlike(m->error, row[i].error) > 1e-5);
            assert_string_equal(m->method, row[i].method);
        }
        tl_measured_free(&log);
        tl_text_free(&text);
        tl_diag_free(&diag);
    }
}

/* A blank sheet is no log yet. */
static void blank_lines(void **state)
{
    const struct tl_measured m = {.t_d = 1, .quantity = TL_MEASURED_TAN, .error = 1};
    struct tl_text text = {0};
    (void)state;
    tl_measured_add_header(&text);
    tl_measured_add(&text, &m, &start, TL_METRIC, true);
    assert_string_equal(text.data, "time_iso,place,quantity,value,unit,error,method,note\n"
                                   "2027-05-02T00:00:00,tank,total ammonia,,mg/L as N,,,\n");
    expect_refused(text.data, text.length, 1, "log.csv: no reading is filled in");
    tl_text_free(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_log),       cmocka_unit_test(numbers_have_a_point_in_any_locale),
        cmocka_unit_test(bad_logs),       cmocka_unit_test(bounds),
        cmocka_unit_test(there_and_back), cmocka_unit_test(blank_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
