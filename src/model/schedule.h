/* Making the list of stops, and fish joining. Private to the model. */
#ifndef TOWERLOOP_MODEL_SCHEDULE_H
#define TOWERLOOP_MODEL_SCHEDULE_H

#include "model_private.h"

int tl_schedule_make(struct tl_model *m);
/* Index of the group of this name; the number of groups when there is none. */
size_t tl_group_index(const struct tl_model *m, const char *name);
void tl_fish_join(const struct tl_model *m, const struct tl_fish *f, double *y);

#endif
