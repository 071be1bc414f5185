/* The system's services as the program uses them: folders, other programs, the locale. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

static char *own; /* a folder for each test */

static int make_own(void **state)
{
    (void)state;
    own = tl_posix_new_folder("posix test");
    return own == NULL;
}

static int remove_own(void **state)
{
    enum tl_posix_kind kind;
    (void)state;
    tl_posix_remove_tree(own);
    const bool gone = tl_posix_look(own, &kind) == TL_OK && kind == TL_POSIX_NOTHING;
    free(own);
    return !gone;
}

static const char *inside(const char *name)
{
    static char path[TL_PATH_SIZE];
    (void)snprintf(path, sizeof path, "%s/%s", own, name);
    return path;
}

static void write_file(const char *name)
{
    FILE *f = fopen(inside(name), "w");
    assert_non_null(f);
    assert_int_equal(fclose(f), 0);
}

static enum tl_posix_kind kind_of(const char *name)
{
    enum tl_posix_kind kind;
    assert_int_equal(tl_posix_look(inside(name), &kind), TL_OK);
    return kind;
}

/* A file, a folder with a file, and a link that leads nowhere. */
static void furnish(void)
{
    bool made = false;
    write_file("file");
    assert_int_equal(tl_posix_make_folder(inside("folder"), &made), TL_OK);
    assert_true(made);
    write_file("folder/deep");
    assert_int_equal(symlink("nowhere", inside("link")), 0);
}

static void test_kinds(void **state)
{
    enum tl_posix_kind kind;
    (void)state;
    furnish();
    assert_int_equal(kind_of("nothing"), TL_POSIX_NOTHING);
    assert_int_equal(kind_of("file"), TL_POSIX_FILE);
    assert_int_equal(kind_of("folder"), TL_POSIX_FOLDER);
    assert_int_equal(kind_of("link"), TL_POSIX_OTHER);
    assert_int_equal(tl_posix_look(inside("file/below a file"), &kind), TL_E_IO);
    assert_int_equal(errno, ENOTDIR);
}

static void test_making_folders(void **state)
{
    bool made = true;
    (void)state;
    furnish();
    assert_int_equal(tl_posix_make_folder(inside("folder"), &made), TL_OK);
    assert_false(made);
    assert_int_equal(tl_posix_make_folder(inside("no/parent"), &made), TL_E_IO);
    assert_int_equal(errno, ENOENT);

    char *one = tl_posix_new_folder(own), *other = tl_posix_new_folder(own);
    assert_non_null(one);
    assert_non_null(other);
    assert_string_not_equal(one, other);
    assert_int_equal(strncmp(one, own, strlen(own)), 0);
    assert_true(tl_posix_remove_empty(one));
    assert_true(tl_posix_remove_empty(other));
    free(one);
    free(other);
    assert_null(tl_posix_new_folder(inside("no/parent")));
    assert_int_equal(errno, ENOENT);
}

static void test_only_empty_folders_are_removed(void **state)
{
    (void)state;
    furnish();
    assert_false(tl_posix_remove_empty(inside("file")));
    assert_false(tl_posix_remove_empty(inside("folder")));
    assert_int_equal(kind_of("file"), TL_POSIX_FILE);
    assert_int_equal(kind_of("folder/deep"), TL_POSIX_FILE);
}

static void test_links_are_not_followed_when_removing(void **state)
{
    (void)state;
    furnish();
    assert_int_equal(tl_posix_make_folder(inside("old"), NULL), TL_OK);
    assert_int_equal(symlink("../folder", inside("old/to the folder")), 0);
    tl_posix_remove_tree(inside("old"));
    assert_int_equal(kind_of("old"), TL_POSIX_NOTHING);
    assert_int_equal(kind_of("folder/deep"), TL_POSIX_FILE);
}

struct seen {
    unsigned files, folders, others;
    int answer;
};

static int see(void *arg, const char *name, enum tl_posix_kind kind)
{
    struct seen *s = arg;
    assert_string_not_equal(name, ".");
    assert_string_not_equal(name, "..");
    s->files += kind == TL_POSIX_FILE;
    s->folders += kind == TL_POSIX_FOLDER;
    s->others += kind == TL_POSIX_OTHER;
    return s->answer;
}

static void test_listing(void **state)
{
    struct seen all = {0}, first = {.answer = TL_E_REFUSED};
    (void)state;
    furnish();
    assert_int_equal(tl_posix_list(own, see, &all), TL_OK);
    assert_int_equal(all.files, 1);
    assert_int_equal(all.folders, 1);
    assert_int_equal(all.others, 1);
    assert_int_equal(tl_posix_list(own, see, &first), TL_E_REFUSED);
    assert_int_equal(first.files + first.folders + first.others, 1);
    assert_int_equal(tl_posix_list(inside("nothing"), see, &first), TL_E_IO);
    assert_int_equal(errno, ENOENT);
}

/* --- other programs ------------------------------------------------------------------------------- */

static void hear(void *arg, const char *bytes, size_t n)
{
    tl_text_add_bytes(arg, bytes, n);
}

/* Runs a line of shell, and gives what it wrote to stderr. */
static enum tl_posix_end shell(const char *line, double limit_s, const volatile int *interrupted,
                               struct tl_text *heard)
{
    const char *const argument[] = {"sh", "-c", line, NULL};
    static const char *const unset[] = {"TL_TEST_", NULL};
    const struct tl_posix_command c = {.argument = argument,
                                       .folder = own,
                                       .unset = unset,
                                       .set = "TL_TEST_IN=in here",
                                       .time_limit_s = limit_s,
                                       .interrupted = interrupted,
                                       .hear = hear,
                                       .hear_arg = heard};
    enum tl_posix_end end;
    assert_int_equal(tl_posix_run(&c, &end), TL_OK);
    return end;
}

static void test_what_a_program_gets_and_says(void **state)
{
    struct tl_text heard = {0};
    (void)state;
    assert_int_equal(setenv("TL_TEST_OUT", "left out", 1), 0);
    assert_int_equal(
        shell("cat; echo unheard; echo \"$TL_TEST_IN|$TL_TEST_OUT|$(ls)\" >&2", 60, NULL, &heard),
        TL_POSIX_SUCCEEDED);
    assert_string_equal(tl_text_string(&heard), "in here||\n");
    tl_text_free(&heard);
    furnish();
    assert_int_equal(shell("ls file >&2; exit 3", 60, NULL, &heard), TL_POSIX_FAILED);
    assert_string_equal(tl_text_string(&heard), "file\n");
    tl_text_free(&heard);
    assert_int_equal(shell("kill -9 $$", 60, NULL, &heard), TL_POSIX_FAILED);
}

static void test_what_a_program_prints_is_heard_on_request(void **state)
{
    const char *const argument[] = {"sh", "-c", "echo heard; echo unheard >&2", NULL};
    const char *const unset[] = {NULL};
    struct tl_text heard = {0};
    const struct tl_posix_command c = {.argument = argument,
                                       .folder = own,
                                       .unset = unset,
                                       .set = "A=b",
                                       .time_limit_s = 60,
                                       .output = true,
                                       .hear = hear,
                                       .hear_arg = &heard};
    enum tl_posix_end end;
    (void)state;
    assert_int_equal(tl_posix_run(&c, &end), TL_OK);
    assert_int_equal(end, TL_POSIX_SUCCEEDED);
    assert_string_equal(tl_text_string(&heard), "heard\n");
    tl_text_free(&heard);
}

/* More than a pipe holds, all of it heard. */
static void test_a_talkative_program(void **state)
{
    struct tl_text heard = {0};
    (void)state;
    assert_int_equal(shell("head -c 300000 /dev/zero | tr '\\0' x >&2", 60, NULL, &heard),
                     TL_POSIX_SUCCEEDED);
    assert_int_equal(heard.length, 300000);
    tl_text_free(&heard);
}

static void test_programs_that_have_to_be_stopped(void **state)
{
    struct tl_text heard = {0};
    const volatile int interrupted = 1;
    (void)state;
    assert_int_equal(shell("sleep 1000", 0.01, NULL, &heard), TL_POSIX_TIMED_OUT);
    assert_int_equal(shell("sleep 1000", 60, &interrupted, &heard), TL_POSIX_INTERRUPTED);
}

static void test_a_program_that_is_not_there(void **state)
{
    const char *const argument[] = {"no-such-program-anywhere", NULL}, *const unset[] = {NULL};
    struct tl_text heard = {0};
    const struct tl_posix_command c = {.argument = argument,
                                       .folder = own,
                                       .unset = unset,
                                       .set = "A=b",
                                       .time_limit_s = 60,
                                       .hear = hear,
                                       .hear_arg = &heard};
    enum tl_posix_end end;
    (void)state;
    assert_int_equal(tl_posix_run(&c, &end), TL_OK);
    assert_int_equal(end, TL_POSIX_NOT_FOUND);
}

/* --- the process ------------------------------------------------------------------------------------ */

static void test_the_process(void **state)
{
    char path[TL_PATH_SIZE], small[4];
    (void)state;
    assert_true(tl_posix_program(path, sizeof path));
    assert_non_null(strstr(path, "/test_posix"));
    assert_false(tl_posix_program(small, sizeof small));
    assert_true(tl_posix_processors() >= 1);
    const double before = tl_posix_seconds();
    assert_true(tl_posix_seconds() >= before);

    FILE *f = fopen("/dev/null", "w");
    assert_non_null(f);
    assert_false(tl_posix_is_terminal(f));
    assert_int_equal(fclose(f), 0);
}

static void one_at_a_time_keeps_a_folder(void **state)
{
    int one = -1, two = -1;
    (void)state;
    assert_int_equal(tl_posix_make_folder(inside("kept"), NULL), TL_OK);
    assert_int_equal(tl_posix_keep_folder(inside("kept"), &one), TL_OK);
    assert_int_equal(tl_posix_keep_folder(inside("kept"), &two), TL_E_REFUSED);
    tl_posix_let_go(one);
    assert_int_equal(tl_posix_keep_folder(inside("kept"), &two), TL_OK);
    tl_posix_let_go(two);
    assert_int_equal(tl_posix_keep_folder(inside("no such"), &one), TL_E_IO);
    assert_true(tl_posix_remove_empty(inside("kept")));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(one_at_a_time_keeps_a_folder, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_kinds, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_making_folders, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_only_empty_folders_are_removed, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_links_are_not_followed_when_removing, make_own,
                                        remove_own),
        cmocka_unit_test_setup_teardown(test_listing, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_what_a_program_gets_and_says, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_what_a_program_prints_is_heard_on_request, make_own,
                                        remove_own),
        cmocka_unit_test_setup_teardown(test_a_talkative_program, make_own, remove_own),
        cmocka_unit_test_setup_teardown(test_programs_that_have_to_be_stopped, make_own,
                                        remove_own),
        cmocka_unit_test_setup_teardown(test_a_program_that_is_not_there, make_own, remove_own),
        cmocka_unit_test(test_the_process),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
