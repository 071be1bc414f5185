/* The compiled model and the workspace, shared by the files of this folder. */
#ifndef TOWERLOOP_MODEL_PRIVATE_H
#define TOWERLOOP_MODEL_PRIVATE_H

#include <stdint.h>

#include "loop_kernel.h"
#include "towerloop/heat_course.h"
#include "towerloop/model.h"

struct tl_model {
    struct tl_setup setup;
    struct tl_layout at;
    struct tl_film_model film;
    struct tl_form form;
    struct tl_site site;
    double pressure_atm;
    int cells_per_tray;
    int cells;
    double cell_depth_m;
    double cell_media_m2;        /* media surface of a cell, wet or not */
    char (*group)[TL_NAME_SIZE]; /* fish groups, at the start and added */
    size_t groups;
    double tap_chlorine_g_m3; /* of the source water as it comes, for rinsing */
    struct tl_stop *stop;     /* the schedule, in order */
    size_t stops;
    double *stop_flow_m3_d;      /* of the pumps, after each stop */
    struct tl_heat_course *heat; /* NULL unless the temperature follows from the weather */
};

/* climate and wetting of the moment, cached */
void tl_work_climate(const struct tl_model *m, struct tl_work *w, double t_degC);
void tl_work_wetting(const struct tl_model *m, struct tl_work *w, double load_m_h);
/* sky of the moment */
void tl_work_sky(const struct tl_model *m, struct tl_work *w, double t_d);
/* hydraulic load of the trays, m/h; 0 = standing still */
double tl_load_m_h(const struct tl_model *m, const struct tl_controls *c);

/* drying.c: how long media stay moist that lose their water at `t_d`, d, as they were wetted before. */
double tl_moist_d(const struct tl_model *m, double t_d, double wetted_at_m_h);

/* One pass down the trays of the state `y` for the water in them, nothing said of the films; see
 * tl_tower_cross(). */
int tl_tower_pass(const struct tl_model *m, struct tl_work *w, double tower_flow_m3_d,
                  double chamber_h, double o2_sat, const double *y);
/* Filled share of the voids of `cells` cells from this film on, gCOD, TL_NFILM a cell; and the share of
 * its wetted area that what is in its voids leaves to one. */
double tl_voids_filled(const struct tl_model *m, const double *film_g, int cells);
double tl_voids_spread(const struct tl_model *m, const double *film_g);
/* The mats of trays `first` to before `end`, counted from 0, are gone from the loop. */
void tl_algae_hose(const struct tl_model *m, size_t first, size_t end, double *y);
/* The green water in so much of it has left the loop. */
void tl_algae_lose_water(const struct tl_model *m, double volume_m3, double *y);

double tl_source_concentration(const struct tl_model *m, const struct tl_climate *c, int component);

#endif
