/* The file of a block: what is written comes back, and what is not whole is refused. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "blocks.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

enum { ROWS = 37, STUDY = 4711, INDEX = 12 };

struct bench {
    char *folder;
    char path[300];
    struct tl_block written, read;
};

/* Runs, and bins with gaps, ties, great ones and rows that nothing lies in. */
static void fill(struct tl_block *b)
{
    b->index = INDEX;
    b->runs = 50;
    for (size_t k = 0; k < b->runs; k++) {
        struct tl_spread_run *r = &b->run[k];
        *r = (struct tl_spread_run){.known = k % 7 != 3,
                                    .impossible = k % 14 == 3,
                                    .unready = k % 3 == 1,
                                    .lost = k % 5 == 0,
                                    .grade = (enum tl_grade)(k % 3),
                                    .lost_d = k % 5 == 0 ? 1.25 * (double)k : NAN};
        for (size_t i = 0; i < TL_NLIMIT; i++)
            r->limit[i] =
                (struct tl_spread_limit){(k + i) % 4 != 0, (enum tl_grade)((k + i) % 3),
                                         sqrt((double)(k * i)) - 3, i % 2 ? NAN : (double)k / 7};
    }
    for (size_t i = 0; i < b->rows; i++) {
        uint16_t *bin = b->bin + i * TL_BLOCK_RUNS;
        b->filled[i] = (uint8_t)(i % 4 == 3 ? 0 : b->runs - i);
        for (size_t k = 0; k < b->filled[i]; k++)
            bin[k] = (uint16_t)(i == 5 ? 65535 : k / (1 + i % 3) * (1 + i * i));
    }
}

static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    b->folder = tl_posix_new_folder("blocks-test");
    assert_non_null(b->folder);
    snprintf(b->path, sizeof b->path, "%s/000012.block", b->folder);
    assert_int_equal(tl_block_new(&b->written, ROWS), TL_OK);
    assert_int_equal(tl_block_new(&b->read, ROWS), TL_OK);
    fill(&b->written);
    assert_int_equal(tl_block_write(&b->written, STUDY, b->path), TL_OK);
    b->read.index = INDEX;
    b->read.runs = b->written.runs;
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    tl_block_free(&b->written);
    tl_block_free(&b->read);
    tl_posix_remove_tree(b->folder);
    free(b->folder);
    free(b);
    return 0;
}

static void same(double a, double b)
{
    assert_memory_equal(&a, &b, sizeof a);
}

static void it_comes_back(void **state)
{
    struct bench *b = *state;
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_OK);
    for (size_t k = 0; k < b->written.runs; k++) {
        const struct tl_spread_run *x = &b->written.run[k], *y = &b->read.run[k];
        assert_int_equal(x->known, y->known);
        assert_int_equal(x->impossible, y->impossible);
        assert_int_equal(x->unready, y->unready);
        assert_int_equal(x->lost, y->lost);
        assert_int_equal(x->grade, y->grade);
        same(x->lost_d, y->lost_d);
        for (size_t i = 0; i < TL_NLIMIT; i++) {
            assert_int_equal(x->limit[i].judged, y->limit[i].judged);
            assert_int_equal(x->limit[i].grade, y->limit[i].grade);
            same(x->limit[i].worst, y->limit[i].worst);
            same(x->limit[i].first_d, y->limit[i].first_d);
        }
    }
    for (size_t i = 0; i < ROWS; i++) {
        assert_int_equal(b->written.filled[i], b->read.filled[i]);
        assert_memory_equal(b->written.bin + i * TL_BLOCK_RUNS, b->read.bin + i * TL_BLOCK_RUNS,
                            b->written.filled[i] * sizeof *b->read.bin);
    }
}

/* The runs of a sensitivity lie behind; who asks for others, or for none, gets nothing. */
static void others_come_back(void **state)
{
    enum { OTHERS = 3 };
    struct bench *b = *state;
    const size_t n = b->written.runs * OTHERS * TL_NLIMIT;
    assert_int_equal(tl_block_add_others(&b->written, OTHERS), TL_OK);
    for (size_t i = 0; i < n; i++)
        b->written.other[i] = i % 5 ? 1 / (double)i : NAN;
    assert_int_equal(tl_block_write(&b->written, STUDY, b->path), TL_OK);
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
    assert_int_equal(tl_block_add_others(&b->read, OTHERS), TL_OK);
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_OK);
    assert_memory_equal(b->read.other, b->written.other, n * sizeof *b->read.other);
    b->read.others++;
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
    b->read.others--;
}

static void only_what_is_asked_for(void **state)
{
    struct bench *b = *state;
    struct tl_block fewer;
    assert_int_equal(tl_block_read(&b->read, STUDY + 1, b->path), TL_E_INPUT);
    b->read.index++;
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
    b->read.index--;
    b->read.runs--;
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
    b->read.runs++;
    assert_int_equal(tl_block_new(&fewer, ROWS - 1), TL_OK);
    fewer.index = INDEX;
    fewer.runs = b->read.runs;
    assert_int_equal(tl_block_read(&fewer, STUDY, b->path), TL_E_INPUT);
    tl_block_free(&fewer);
    assert_int_equal(tl_block_read(&b->read, STUDY, "no such file"), TL_E_INPUT);
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_OK);
}

static void put(const char *path, const char *data, size_t length)
{
    FILE *f = fopen(path, "wbe");
    assert_non_null(f);
    assert_int_equal(fwrite(data, 1, length, f), length);
    assert_int_equal(fclose(f), 0);
}

/* Any bit that is turned, and any end that is missing or too much. */
static void what_is_not_whole_is_refused(void **state)
{
    struct bench *b = *state;
    char *data = NULL;
    size_t length = 0;
    assert_int_equal(tl_read_file(b->path, 1u << 20, &data, &length), TL_OK);
    for (size_t i = 0; i < length; i += 1 + i % 13) {
        data[i] = (char)(data[i] ^ (1 << i % 8));
        put(b->path, data, length);
        assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
        data[i] = (char)(data[i] ^ (1 << i % 8));
    }
    for (size_t i = 0; i < length; i += 1 + i / 3) {
        put(b->path, data, i);
        assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
    }
    put(b->path, data, length + 1); /* its NUL */
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_E_INPUT);
    put(b->path, data, length);
    assert_int_equal(tl_block_read(&b->read, STUDY, b->path), TL_OK);
    free(data);
}

static void names(void **state)
{
    (void)state;
    char name[TL_BLOCK_NAME_SIZE];
    tl_block_name(7, name);
    assert_string_equal(name, "000007.block");
    assert_true(tl_block_is_name(name));
    assert_true(tl_block_is_name("000007.block.partial"));
    assert_true(tl_block_is_name("1234567.block"));
    assert_false(tl_block_is_name("7.block"));
    assert_false(tl_block_is_name("000007.block.old"));
    assert_false(tl_block_is_name("notes.txt"));
    assert_false(tl_block_is_name(""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(it_comes_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(others_come_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(only_what_is_asked_for, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_not_whole_is_refused, set_up, tear_down),
        cmocka_unit_test(names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
