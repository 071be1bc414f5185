/* Gives files to a harness without libFuzzer, so that every compiler can: one test a file.
 *
 * usage: replay FOLDER ...: the files in them; one folder at least has to have some. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "fuzz.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

enum { MOST_FILES = 4000, MOST_BYTES = 1 << 24 };

struct files {
    const char *folder;
    struct CMUnitTest test[MOST_FILES];
    size_t n;
};

static void replay(void **state)
{
    const char *path = *state;
    char *text = NULL;
    size_t length = 0;
    assert_int_equal(tl_read_file(path, MOST_BYTES, &text, &length), TL_OK);
    /* to the byte, so that reading behind its end is seen */
    uint8_t *data = malloc(length ? length : 1);
    assert_non_null(data);
    memcpy(data, text, length);
    free(text);
    assert_int_equal(LLVMFuzzerTestOneInput(data, length), 0);
    free(data);
}

static int add(void *arg, const char *name, enum tl_posix_kind kind)
{
    struct files *f = arg;
    struct tl_text path = {0};
    if (kind != TL_POSIX_FILE)
        return TL_OK;
    if (f->n == MOST_FILES)
        return TL_E_INPUT;
    tl_text_addf(&path, "%s/%s", f->folder, name);
    f->test[f->n++] = (struct CMUnitTest){path.data, replay, NULL, NULL, path.data};
    return path.failed ? TL_E_MEMORY : TL_OK;
}

int main(int argc, char **argv)
{
    static struct files f;
    for (int i = 1; i < argc; i++) {
        f.folder = argv[i];
        if (tl_posix_list(argv[i], add, &f) != TL_OK) {
            print_error("%s cannot be read\n", argv[i]);
            return 1;
        }
    }
    if (f.n == 0) {
        print_error("there is nothing to replay\n");
        return 1;
    }
    const int failed = _cmocka_run_group_tests("replay", f.test, f.n, NULL, NULL);
    for (size_t i = 0; i < f.n; i++)
        free(f.test[i].initial_state);
    return failed > 0;
}
