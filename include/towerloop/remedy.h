/* A plan out of bad water: what to do now, in which order, and what each step does to the water.
 *
 * The plan reckons with the carbonate balance: a water change mixes alkalinity, inorganic carbon,
 * ammonia, nitrite, nitrate and chloride, baking soda adds alkalinity and carbon, and the pH follows.
 * It is looked at twice: just mixed, and settled, when carbon dioxide and temperature have gone back
 * to what they were in the pond at the start. Fish and filter stand still meanwhile, which is why every step ends in a
 * test. What holds for every plan, at every step, mixed and settled:
 *
 *   - un-ionised ammonia is never above the higher of what it was before the plan and
 *     TL_REMEDY_NH3_FLOOR of its caution level;
 *   - the pH moves by no more than TL_REMEDY_PH_STEP, the temperature by TL_REMEDY_T_STEP;
 *   - no figure gets a worse grade, and none in danger gets worse than it is, or was before the plan,
 *     by more than TL_REMEDY_WORSE (more air: than it was before the plan);
 *   - what the plan says is not left beyond caution at its end is not.
 *
 * The one exception is more air where oxygen is low: fish that suffocate cannot wait. Air drives
 * carbon dioxide out, which raises the pH; the step then says how far (`harsh`).
 *
 * Where readings are missing nothing is guessed to the good: the step that needs them is left out
 * and the readings are named. */
#ifndef TOWERLOOP_REMEDY_H
#define TOWERLOOP_REMEDY_H

#include "towerloop/sample.h"
#include "towerloop/units.h"

/* Common practice, no source. */
#define TL_REMEDY_PH_STEP     0.3 /* pH in one step */
#define TL_REMEDY_T_STEP      2.0 /* degC in one step */
#define TL_REMEDY_LONG_WAIT_D 1.0 /* after a step that moved pH or temperature by half of that */
#define TL_REMEDY_WAIT_D      0.5 /* after any other */
#define TL_REMEDY_MOST        0.5 /* of the water in one change */
#define TL_REMEDY_ALK_EQ_M3   (100 / 50.04) /* what baking soda aims at: 100 mg/L as CaCO3 */
#define TL_REMEDY_SALT_G_KG   3.0           /* salinity that a dose of salt does not pass */
#define TL_REMEDY_SALT_SHARE  0.25          /* of the water in one change that takes salt out */
#define TL_REMEDY_SLOW_PH     6.5           /* below it a quick rise of the pH is the danger */
/* Judgement. */
#define TL_REMEDY_NH3_FLOOR 0.5 /* of the caution level: there a pH kit may err by 0.3 unpunished */
#define TL_REMEDY_AIM                                                                              \
    0.9 /* of the caution level: what water changes aim at, less where soda follows */
#define TL_REMEDY_WORSE   0.005 /* of a figure in danger: no kit shows it, and it bars no way out */
#define TL_REMEDY_LEAST   0.05  /* of the water: smaller changes are not worth it */
#define TL_REMEDY_CHANGES 5     /* a plan has no more changes of water: test and plan anew */
/* 40 CFR 141.65: what US tap water may hold at most on average, as Cl2. */
#define TL_REMEDY_CHLORINE_G_M3 4.0
/* g of sodium thiosulfate crystals (5 H2O, 248.19 g/mol) per g Cl2 (70.91): 2 mol per mol, the
 * reaction to tetrathionate, which takes the most. */
#define TL_REMEDY_THIOSULFATE 7.0

/* id, key in JSON, dimension of the amount */
#define TL_REMEDY_LIST(X)                                                                          \
    X(STOP_FEEDING, "stop_feeding", TL_DIM_NUMBER) /* no amount */                                 \
    X(MORE_AIR, "more_air", TL_DIM_NUMBER)         /* no amount */                                 \
    X(COOL, "cool", TL_DIM_TEMPERATURE_SPAN)       /* by this much a day at most */                \
    X(WARM, "warm", TL_DIM_TEMPERATURE_SPAN)       /* the same */                                  \
    X(DECHLORINATE, "dechlorinate", TL_DIM_MASS)   /* thiosulfate, for the change that follows */  \
    X(CHANGE_WATER, "change_water", TL_DIM_FRACTION)                                               \
    X(SALT, "salt", TL_DIM_MASS)                                                                   \
    X(BAKING_SODA, "baking_soda", TL_DIM_MASS)                                                     \
    X(TEST_AGAIN, "test_again", TL_DIM_TIME) /* after the first steps */

enum tl_remedy_kind {
#define TL_REMEDY_ENUM(id, key, dim) TL_REMEDY_##id,
    TL_REMEDY_LIST(TL_REMEDY_ENUM)
#undef TL_REMEDY_ENUM
        TL_NREMEDY
};

enum tl_chlorine_form { TL_CHLORINE_UNKNOWN, TL_CHLORINE_FREE, TL_CHLORINE_CHLORAMINE };

struct tl_remedy_input {
    struct tl_sample pond;
    struct tl_sample source;     /* its oxygen, elevation and salinity are not used */
    double volume_m3;            /* of the water in the loop, > 0 */
    double fish_g;               /* NAN: not known */
    double source_chlorine_g_m3; /* as Cl2; NAN: not known */
    enum tl_chlorine_form form;
};

struct tl_remedy_step {
    enum tl_remedy_kind kind;
    double amount;    /* base unit of the kind's dimension; NAN: none */
    double wait_d;    /* after the step before, tests apart, 0: at once */
    unsigned because; /* figures beyond their limits: TL_FIGURE_BIT() */
    bool harsh;       /* more air although it raises un-ionised ammonia, as `mixed` says */
    struct tl_sample before, mixed, settled;
};

/* What stands in the way of a step. */
enum tl_obstacle {
    TL_OBSTACLE_NONE,
    TL_OBSTACLE_AMMONIA,     /* un-ionised ammonia would rise */
    TL_OBSTACLE_PH,          /* the pH would move too far */
    TL_OBSTACLE_TEMPERATURE, /* the temperature would */
    TL_OBSTACLE_FIGURE,      /* another figure would get worse */
    TL_OBSTACLE_NO_USE,      /* the source water is hardly better */
    TL_OBSTACLE_READINGS     /* readings are missing */
};

struct tl_remedy_held {        /* a step that was wanted and is not in the plan */
    enum tl_obstacle obstacle; /* TL_OBSTACLE_NONE: nothing was held back */
    enum tl_figure_id figure;  /* of TL_OBSTACLE_FIGURE, TL_OBSTACLE_NO_USE */
    double amount;             /* the step that was tried, as in tl_remedy_step */
    struct tl_sample before, mixed, settled;
};

#define TL_REMEDY_STEPS 48

struct tl_remedy {
    bool needed; /* something is beyond caution, or may be */
    struct tl_remedy_step step[TL_REMEDY_STEPS];
    int steps;
    struct tl_remedy_held change, soda, air;
    struct tl_figures start;
    struct tl_sample end; /* after the last step, settled */
    unsigned left;        /* figures that are beyond caution at the end all the same */
    unsigned measure;     /* readings of the pond to take */
    unsigned measure_source;
    /* what the source water was taken for */
    struct tl_sample source;
    double source_chlorine_g_m3;
    bool chlorine_assumed, chloramine_assumed;
    bool by_bounds; /* without alkalinity: the pH is only known to lie between pond and source */
    double fish_tan_g_m3_d; /* what unfed fish add to the ammonia in a day; NAN: not known */
};

const char *tl_remedy_key(enum tl_remedy_kind kind);
enum tl_dim tl_remedy_dim(enum tl_remedy_kind kind);

void tl_remedy_plan(const struct tl_remedy_input *in, const struct tl_limits *limits,
                    struct tl_remedy *out);

#endif
