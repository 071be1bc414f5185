/* How bad does the ammonia get? The library from C.
 *
 *     cc worst.c -o worst $(pkg-config --cflags --libs towerloop)
 *     ./worst my-pond.yaml
 */
#include <stdio.h>
#include <string.h>

#include <towerloop/towerloop.h>

#define WORST_SIZE (1 << 20)

static size_t read_file(const char *path, char *text, size_t size)
{
    FILE *f = fopen(path, "rb");
    size_t length = f ? fread(text, 1, size, f) : 0;
    if (f)
        fclose(f);
    return length;
}

/* Called once a simulated day; a return other than 0 would stop the run. */
static int watch(void *arg, double t_d, double done)
{
    (void)arg;
    fprintf(stderr, "day %.0f, %.0f %%\n", t_d, 100 * done);
    return 0;
}

static int tell(struct tl_loop *loop)
{
    struct tl_loop_limit limit;
    printf("%s\n", tl_loop_verdict(loop));
    for (size_t i = 0; tl_loop_limit(loop, i, &limit) == TL_OK; i++)
        if (strcmp(limit.name, "un-ionised ammonia") == 0)
            printf("%s: %.9g %s on day %.9g\n", limit.name, limit.worst, limit.unit, limit.worst_d);

    /* the table, column by column */
    const double *nh3 = tl_loop_column(loop, (size_t)tl_loop_find_column(loop, "tank_nh3_mgN_L"));
    double highest = nh3[0];
    for (size_t row = 1; row < tl_loop_rows(loop); row++)
        highest = nh3[row] > highest ? nh3[row] : highest;
    printf("highest row: %.9g\n", highest);
    return 0;
}

int main(int argc, char **argv)
{
    static char text[WORST_SIZE];
    struct tl_loop *loop = NULL;
    int failed = 1;

    if (argc != 2) {
        fprintf(stderr, "usage: worst SCENARIO\n");
        return 2;
    }
    size_t length = read_file(argv[1], text, sizeof text);
    if (tl_loop_read_text(text, length, ".", NULL, 0, &loop) != TL_OK) {
        for (size_t i = 0; loop && i < tl_loop_messages(loop); i++)
            fprintf(stderr, "%s\n", tl_loop_message(loop, i));
        failed = 2;
    } else {
        tl_loop_watch(loop, watch, NULL);
        if (tl_loop_run(loop) == TL_OK)
            failed = tell(loop);
        else
            fprintf(stderr, "%s\n", tl_loop_fault(loop));
    }
    tl_loop_free(loop);
    return failed;
}
