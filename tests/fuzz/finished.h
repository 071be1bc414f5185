/* A run that lies finished in a folder, for what reads its files. */
#ifndef TL_FUZZ_FINISHED_H
#define TL_FUZZ_FINISHED_H

#include "towerloop/scenario.h"

/* Two days of a small pond, run at the first call into `run` in the folder of the fuzzing, and its scenario. */
const struct tl_scenario *tl_fuzz_finished(void);

/* A page must be UTF-8 without what is no character in it, and hold no script. */
void tl_fuzz_check_page(const char *path);

#endif
