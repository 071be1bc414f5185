/* Where everything stands in the state vector. */
#ifndef TOWERLOOP_MODEL_LAYOUT_H
#define TOWERLOOP_MODEL_LAYOUT_H

#include <stddef.h>

#include "process.h"

/* A fish group in the state; the number changes only at events. */
enum tl_fish_slot {
    TL_FISH_BIOMASS_KG,
    TL_FISH_GUT1_G,
    TL_FISH_GUT2_G,
    TL_FISH_NUMBER,
    TL_FISH_SLOTS
};

/* Running totals of the fish. */
enum tl_fish_total {
    TL_FED_G,     /* given, eaten part (events) */
    TL_UNEATEN_G, /* given, left over (events) */
    TL_ABSORBED_G,
    TL_BASAL_N_G, /* excreted beyond what follows from feed */
    TL_FISH_O2_G,
    TL_GUT_LOST_G, /* feed in the guts of fish removed (events) */
    TL_FISH_TOTALS
};

/* Of the plan that holds the alkalinity (stops). */
enum tl_plan_slot {
    TL_PLAN_G,
    TL_PLAN_MOST_G, /* at one look */
    TL_PLAN_MOST_D, /* when that was */
    TL_PLAN_TIMES,  /* looks at which something was given */
    TL_PLAN_SHORT,  /* of these, looks at which it was all that is allowed */
    TL_PLAN_SLOTS
};

/* Algae that left the loop, gCOD. */
enum tl_algae_out {
    TL_ALGAE_HOSED,    /* off the trays (events) */
    TL_ALGAE_OVERFLOW, /* with water */
    TL_ALGAE_OUTS
};

enum tl_gas_path {
    TL_GAS_TANK_SURFACE,
    TL_GAS_AERATOR,
    TL_GAS_CHAMBER_SURFACE,
    TL_GAS_TOWER,
    TL_GAS_PATHS
};

struct tl_layout {
    /* the state proper, under error control */
    size_t tank;         /* TL_NWATER concentrations */
    size_t chamber;      /* TL_NWATER concentrations */
    size_t sludge;       /* 2: biodegradable, inert, gCOD */
    size_t tank_wall;    /* TL_NFILM, gCOD */
    size_t chamber_wall; /* TL_NFILM, gCOD */
    size_t cell;         /* cells x TL_NFILM, gCOD */
    size_t fish;         /* groups x TL_FISH_SLOTS */
    size_t store;        /* nitrogen freed in the tower while it stands still, gN */
    size_t dead;         /* dead fish in the tank, kg: one for each event that leaves some */
    size_t formaldehyde; /* in tank and chamber, g; none where it is never dosed */
    size_t mat;          /* algae on each lit tray, gCOD; none without sun */
    size_t green;        /* green water in tank and chamber, gCOD; none without it */
    size_t core;         /* length of the state proper */
    /* running totals, not under error control */
    size_t extent_tank;    /* TL_NWATER_PROCESS */
    size_t extent_chamber; /* TL_NCHAMBER_PROCESS */
    size_t extent_tower;   /* TL_NFILM_PROCESS, then capture S and I */
    size_t extent_idle;    /* decay A, N, H in a tower that stands still */
    size_t extent_mat;     /* TL_NALGAE_PROCESS, of the mats; as many as they are or none */
    size_t extent_green;   /* the same of green water */
    size_t gas_o2;         /* TL_GAS_PATHS, g into the water */
    size_t gas_tic;        /* TL_GAS_PATHS, mol into the water */
    size_t source_in;      /* TL_NWATER */
    size_t water_out;      /* TL_NWATER */
    size_t dosed;          /* TL_NWATER */
    size_t dosed_g;        /* TL_NDOSE, g of each substance */
    size_t plan;           /* TL_PLAN_SLOTS */
    size_t measured;       /* TL_DOSES_SHOWN, g given by the first doses that are no mass */
    size_t chlorine_lost;  /* g Cl2 */
    size_t chlorine_met;   /* residual chlorine of the tank's water over the time, g d/m3 */
    size_t fish_total;     /* TL_FISH_TOTALS */
    size_t rotted;         /* dead fish, kg; none without them */
    size_t burnt;          /* formaldehyde, g; none without it */
    size_t film_out;       /* TL_NFILM, rinsed away, gCOD */
    size_t sludge_out;     /* 2, gCOD */
    size_t store_out;      /* gN returned to the tank */
    size_t algae_out;      /* TL_ALGAE_OUTS, or none */
    size_t size;
};

/* No more trays than this have algae. */
#define TL_MOST_LIT 200

#define TL_NTOWER_EXTENT (TL_NFILM_PROCESS + 2)

#endif
