/* The compiled model and the workspace, shared by the files of this folder. */
#ifndef TOWERLOOP_MODEL_PRIVATE_H
#define TOWERLOOP_MODEL_PRIVATE_H

#include <stdint.h>

#include "film.h"
#include "layout.h"
#include "loop.h"
#include "towerloop/model.h"

struct tl_model {
    struct tl_setup setup;
    struct tl_layout at;
    struct tl_film_model film;
    double pressure_atm;
    double tank_wall_m2; /* effective */
    double chamber_wall_m2;
    int cells_per_tray;
    int cells;
    double cell_depth_m;
    double cell_capture;         /* share of the solids a cell holds back */
    double cell_media_m2;        /* media surface of a cell, wet or not */
    char (*group)[TL_NAME_SIZE]; /* fish groups, at the start and added */
    size_t groups;
    struct tl_stop *stop; /* the schedule, in order */
    size_t stops;
};

/* The water leaving a cell, and what the cell did. */
struct tl_cell_state {
    double growth[3];       /* last growth rates, gCOD/m2/d: the next first guess */
    double h_ratio;         /* [H+] leaving over [H+] entering, likewise */
    struct tl_film_water s; /* at the film */
    double out_o2, out_tan; /* of the water leaving */
    double gas_o2, gas_co2; /* taken up from the air, g and mol per m3 of water */
};

struct tl_work {
    struct tl_climate climate; /* of climate.t_degC; NAN at first */
    /* wetting of the media, of (temperature, load) */
    double wet_t_degC, wet_load_m_h;
    double cell_wet_m2;
    double cell_gas_o2; /* m3/d */
    double cell_gas_co2;
    double tank_h, chamber_h;
    double glance_degC; /* temperature of the constants below; NAN at first */
    struct tl_carbonate glance_k;
    struct tl_cell_state *cell;
    struct tl_film_block *block; /* the cells' films, TL_LANES a block */
    double tower_out[TL_NWATER];
    double tower_out_h;
    double tower_extent[TL_NTOWER_EXTENT];
    double tower_gas_o2, tower_gas_tic;
    int fault_tray; /* 1-based tray of the last failure, 0 = none */
};

/* climate and wetting of the moment, cached */
void tl_work_climate(const struct tl_model *m, struct tl_work *w, double t_degC);
void tl_work_wetting(const struct tl_model *m, struct tl_work *w, double load_m_h);
/* hydraulic load of the trays, m/h; 0 = standing still */
double tl_load_m_h(const struct tl_model *m, const struct tl_controls *c);

/* tower.c: one pass down the trays. `chamber` is the water pumped up, `film` the cells' masses,
 * `dfilm` gets their derivatives and w->tower_extent the totals of the processes; where it is NULL
 * they are left out. Fills w->tower_*; 0 or TL_E_SOLVER. */
int tl_tower_pass(const struct tl_model *m, struct tl_work *w, double tower_flow_m3_d,
                  const double *chamber, double chamber_h, double o2_sat, const double *film,
                  double *dfilm);
/* decay in a tower that stands still; `rate` gets the total of the three decays, gCOD/d */
void tl_tower_idle(const struct tl_model *m, const struct tl_work *w, bool dried_out,
                   const double *film, double *dfilm, double *rate);

double tl_source_concentration(const struct tl_model *m, const struct tl_climate *c, int component);

#endif
