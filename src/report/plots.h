/* Where the gnuplot scripts of the charts are. */
#ifndef TOWERLOOP_REPORT_PLOTS_H
#define TOWERLOOP_REPORT_PLOTS_H

#include <stddef.h>

/* The folder with the scripts that belong to the running program: those of its own installation,
 * wherever that was moved, or of its own build folder; else those of the configured prefix. Writes at
 * most `size` bytes, TL_PATH_SIZE is enough. */
void tl_plots_folder(char *path, size_t size);

#endif
