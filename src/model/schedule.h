/* Making the list of stops, and what happens at some of them. Private to the model. */
#ifndef TOWERLOOP_MODEL_SCHEDULE_H
#define TOWERLOOP_MODEL_SCHEDULE_H

#include "model_private.h"

int tl_schedule_make(struct tl_model *m);
/* dose.c: carry out a dose; a look of the plan that holds the alkalinity. */
void tl_dose(const struct tl_model *m, size_t event, double *y);
void tl_dose_hold(const struct tl_model *m, double t_d, double *y);
/* event.c: the trays lose their water. */
void tl_water_stops(const struct tl_model *m, double t_d, struct tl_controls *c);
/* shock.c: so much of the living film of a tray, counted from 1, or of a place dies. */
void tl_kill_tray(const struct tl_model *m, double share, int tray, double *y);
void tl_kill(const struct tl_model *m, double share, enum tl_where where, double *y);
/* Index of the group of this name; the number of groups when there is none. */
size_t tl_group_index(const struct tl_model *m, const char *name);
void tl_fish_join(const struct tl_model *m, const struct tl_fish *f, double *y);

#endif
