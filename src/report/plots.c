/* Finds the gnuplot scripts from where the program lies, so that an installed program never takes
 * those of a source tree, nor a freshly built one those of an installation. */
#include "plots.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* Seen from the program's folder: installed as bin/towerloop, built as src/cli/towerloop. */
static const char *const places[] = {"../share/towerloop/plots", "../report"};

void tl_plots_folder(char *path, size_t size)
{
    char program[PATH_MAX], script[PATH_MAX + 64];
    const ssize_t length = readlink("/proc/self/exe", program, sizeof program - 1);
    program[length > 0 ? length : 0] = '\0';
    char *slash = strrchr(program, '/');

    for (size_t i = 0; slash && i < sizeof places / sizeof *places; i++) {
        slash[1] = '\0';
        snprintf(script, sizeof script, "%s%s/style.gp", program, places[i]);
        if (access(script, R_OK) == 0) {
            snprintf(path, size, "%s%s", program, places[i]);
            return;
        }
    }
    snprintf(path, size, "%s", TL_PLOTS_INSTALL_DIR);
}
