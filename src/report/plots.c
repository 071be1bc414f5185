/* Finds the gnuplot scripts from where the program lies, so that an installed program never takes
 * those of a source tree, nor a freshly built one those of an installation. */
#include "plots.h"

#include <stdio.h>
#include <string.h>

#include "posix.h"

/* Seen from the program's folder: installed as bin/towerloop, built as src/cli/towerloop. */
static const char *const places[] = {"../share/towerloop/plots", "../report"};

void tl_plots_folder(char *path, size_t size)
{
    char program[TL_PATH_SIZE], script[TL_PATH_SIZE + 64];
    char *slash = tl_posix_program(program, sizeof program) ? strrchr(program, '/') : NULL;

    for (size_t i = 0; slash && i < sizeof places / sizeof *places; i++) {
        slash[1] = '\0';
        snprintf(script, sizeof script, "%s%s/style.gp", program, places[i]);
        FILE *f = fopen(script, "re");
        if (f) {
            fclose(f);
            snprintf(path, size, "%s%s", program, places[i]);
            return;
        }
    }
    snprintf(path, size, "%s", TL_PLOTS_INSTALL_DIR);
}
