/* Random loops for a program of tests. */
#include "random_loops.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "posix.h"
#include "towerloop/diag.h"

int random_loops_begin(struct random_loops *r, uint64_t seed)
{
    const char *other = getenv("TL_SEED");
    *r = (struct random_loops){.first_seed = other ? strtoull(other, NULL, 10) : seed,
                               .folder = "/tmp/tl-property-XXXXXX",
                               .seen = coverage_new()};
    if (!r->seen || !mkdtemp(r->folder))
        return -1;
    (void)snprintf(r->file, sizeof r->file, "%s/random.yaml", r->folder);
    return 0;
}

int random_loops_end(struct random_loops *r)
{
    tl_posix_remove_tree(r->folder);
    coverage_free(r->seen);
    return 0;
}

int random_loop(const struct random_loops *r, uint64_t seed, struct wish wish,
                struct tl_scenario *out)
{
    struct tl_text text = {0};
    struct tl_diag diag;

    tl_diag_init(&diag);
    wish.folder = r->folder;
    generate(seed, &wish, &text, r->seen);
    FILE *f = fopen(r->file, "w");
    assert_non_null(f);
    (void)fputs(text.data, f);
    assert_int_equal(fclose(f), 0);
    const int status = tl_scenario_read(r->file, NULL, out, &diag);
    if (status || getenv("TL_SHOW"))
        (void)fputs(text.data, stderr); /* longer than cmocka prints */
    for (size_t i = 0; status && i < diag.count; i++) {
        char *message = tl_diag_text(&diag.message[i]);
        print_error("%s\n", message);
        free(message);
    }
    tl_diag_free(&diag);
    tl_text_free(&text);
    return status;
}
