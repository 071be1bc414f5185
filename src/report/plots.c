/* Finds the gnuplot scripts from where the program lies. */
#include "plots.h"

#include <stdio.h>

#include "own_folder.h"

void tl_plots_folder(char *path, size_t size)
{
    if (!tl_own_folder("share/towerloop/plots", "report", "style.gp", path, size))
        snprintf(path, size, "%s", TL_PLOTS_INSTALL_DIR);
}
