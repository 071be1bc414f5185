/* One sample of water as test kits read it, and what it means: shares, saturation, judgement.
 *
 * A sample is judged by itself, though some limits are meant for means over an hour, a day or 30
 * days (verdict.h): a mean that is beyond its limit has such moments in it. */
#ifndef TOWERLOOP_SAMPLE_H
#define TOWERLOOP_SAMPLE_H

#include <stdbool.h>

#include "towerloop/limits.h"
#include "towerloop/ranges.h"
#include "towerloop/verdict.h"

/* --- readings ----------------------------------------------------------------------------- */

/* id, field of struct tl_sample, the scenario's word, dimension, least, most (base units) */
#define TL_READING_LIST(X)                                                                         \
    X(TEMPERATURE, temperature_degC, "temperature", TL_DIM_TEMPERATURE, 0, 40)                     \
    X(PH, ph, "pH", TL_DIM_NUMBER, 4, 11)                                                          \
    X(AMMONIA, tan_gN_m3, "ammonia", TL_DIM_CONC_N, 0, 1000)                                       \
    X(NITRITE, no2_gN_m3, "nitrite", TL_DIM_CONC_N, 0, 1000)                                       \
    X(NITRATE, no3_gN_m3, "nitrate", TL_DIM_CONC_N, 0, 10000)                                      \
    X(ALKALINITY, alk_eq_m3, "alkalinity", TL_DIM_ALKALINITY, 0, 50)                               \
    X(CHLORIDE, chloride_g_m3, "chloride", TL_DIM_CONC, 0, 20000)                                  \
    X(OXYGEN, o2_g_m3, "oxygen", TL_DIM_CONC, 0, 40)                                               \
    X(ELEVATION, elevation_m, "elevation", TL_DIM_LENGTH, -430, 6000)                              \
    X(SALINITY, salinity_g_g, "salinity", TL_DIM_PER_MASS, 0, 0.05)

enum tl_reading_id {
#define TL_READING_ENUM(id, field, name, dim, least, most) TL_READING_##id,
    TL_READING_LIST(TL_READING_ENUM)
#undef TL_READING_ENUM
        TL_NREADING
};
/* For sets of readings. */
#define TL_READING_BIT(id) (1u << TL_READING_##id)

/* NAN: not measured. Ammonia is total ammonia, as N. */
struct tl_sample {
#define TL_READING_FIELD(id, field, name, dim, least, most) double field;
    TL_READING_LIST(TL_READING_FIELD)
#undef TL_READING_FIELD
};

/* Nothing measured. */
void tl_sample_init(struct tl_sample *s);
double tl_sample_reading(const struct tl_sample *s, enum tl_reading_id id);
const char *tl_reading_name(enum tl_reading_id id);

/* --- figures ------------------------------------------------------------------------------ */

/* id, key in JSON, name, unit, source of the value ("" = measured), source of its limits ("" = it
 * has none) */
/* clang-format off */
#define TL_FIGURE_LIST(X)                                                                          \
    X(TEMPERATURE, "temperature", "temperature", "degC", "", "judgement")                          \
    X(NH3_SHARE, "nh3_share", "un-ionised share", "%", "Emerson et al. 1975", "")                  \
    X(NH3, "nh3", "un-ionised ammonia", "mg/L as N", "Emerson et al. 1975", "published guidance")  \
    X(TAN_CHRONIC, "tan_chronic", "ammonia (30 days)", "mg/L as N", "", "US EPA 2013 chronic")     \
    X(TAN_ACUTE, "tan_acute", "ammonia (1 hour)", "mg/L as N", "", "US EPA 2013 acute")            \
    X(NO2, "nitrite", "nitrite", "mg/L as N", "", "guidance; judgement")                           \
    X(CL_NO2, "chloride_to_nitrite", "chloride : nitrite", "", "SRAC publication 462", "")         \
    X(HNO2, "hno2", "nitrous acid", "mg/L as N", "Anthonisen et al. 1976", "")                     \
    X(NO3, "nitrate", "nitrate", "mg/L as N", "", "judgement")                                     \
    X(CHLORIDE, "chloride", "chloride", "mg/L", "", "judgement")                                   \
    X(O2, "oxygen", "oxygen", "mg/L", "", "guidance; judgement")                                   \
    X(O2_SAT, "oxygen_saturation", "oxygen when full", "mg/L", "Benson & Krause 1984", "")         \
    X(O2_SHARE, "oxygen_share", "oxygen % of full", "%", "Benson & Krause 1984",                   \
      "US EPA 1986; judgement")                                                                    \
    X(PH, "ph", "pH", "", "", "guidance; judgement")                                               \
    X(ALK, "alkalinity", "alkalinity", "mg/L as CaCO3", "", "Biesterfeld et al. 2003")             \
    X(CO2, "co2", "carbon dioxide", "mg/L", "Plummer & Busenberg 1982", "handbooks (memory)")      \
    X(TIC, "tic", "inorganic carbon", "mmol/L", "Plummer & Busenberg 1982", "")
/* clang-format on */

enum tl_figure_id {
#define TL_FIGURE_ENUM(id, key, name, unit, source, limits) TL_FIGURE_##id,
    TL_FIGURE_LIST(TL_FIGURE_ENUM)
#undef TL_FIGURE_ENUM
        TL_NFIGURE
};
/* For sets of figures. */
#define TL_FIGURE_BIT(id) (1u << TL_FIGURE_##id)

struct tl_figure_row {
    const char *key, *name, *unit, *source, *limits;
};
const struct tl_figure_row *tl_figure_row(enum tl_figure_id id);

/* --- published ranges --------------------------------------------------------------------- */

/* Those of ranges.h, and some that a run cannot leave or does not ask for. Same columns. Salty water
 * has less un-ionised ammonia than the equation for fresh water says. */
#define TL_SAMPLE_RANGE_LIST(X)                                                                    \
    TL_RANGE_LIST(X)                                                                               \
    X(TL_RANGE_NH3_PH, "pH", "", 6, 10, "un-ionised share", "Emerson et al. 1975")                 \
    X(TL_RANGE_FRESH, "salinity", "g/kg", 0, 1, "equations of fresh water", "40 CFR 131.36(c)(3)")

enum tl_sample_range_id { TL_RANGE_NH3_PH = TL_NRANGE, TL_RANGE_FRESH, TL_NSAMPLE_RANGE };

struct tl_range_row {
    const char *what, *unit, *use, *source;
    double low, high;
};
const struct tl_range_row *tl_range_row(int id); /* of either enumeration */

/* --- what is judged besides the limits ------------------------------------------------------ */

/* % of full. US EPA 1986, Quality Criteria for Water, EPA 440/5-86-001: all dissolved gas together no
 * more than 110 % of what the air holds it at. Where a pump draws in air, every gas is as far above. */
#define TL_O2_SHARE_CAUTION 110.0
/* Judgement: where plants give oxygen alone, a fifth of the gas, all gas together is at 121 %. */
#define TL_O2_SHARE_DANGER 200.0
/* 100 / 0.2095, the part of oxygen in air: what pure oxygen brings. Under air no water holds more. */
#define TL_O2_SHARE_PURE 477.0

/* Where ammonia was measured without pH: the pH of its mildest and of its worst case. Judgement: beyond
 * them the pH is in danger by itself. */
#define TL_SAMPLE_PH_LEAST 6.0
#define TL_SAMPLE_PH_MOST  9.5

/* --- what the sample means ---------------------------------------------------------------- */

struct tl_figure {
    double value;        /* in the row's unit; NAN: cannot be told */
    double caution;      /* NAN: none. pH, temperature: those of the side that is nearer */
    double danger;       /* NAN: none */
    bool below;          /* values below the limit are the bad ones */
    bool judged;         /* there is a value, and a limit for it */
    enum tl_grade grade; /* without a value that of the mildest case, or TL_WITHIN */
    enum tl_grade worst; /* without a value that of the worst case; otherwise the grade */
    double least, most;  /* what it may be, without a value; NAN: nothing is known of it */
    unsigned missing;    /* readings that are needed and lacking: TL_READING_BIT() */
    unsigned outside;    /* published ranges that were left: 1u << id */
};

struct tl_figures {
    struct tl_figure figure[TL_NFIGURE];
    enum tl_grade grade;                  /* the worst of them, published ranges apart */
    enum tl_grade may_be;                 /* the worst that any of them may be */
    unsigned untold;                      /* figures that may be worse than their grade */
    unsigned outside;                     /* published ranges that any figure left */
    double range_value[TL_NSAMPLE_RANGE]; /* what was compared with the range; NAN: nothing */
    unsigned missing;                     /* readings that some figure lacks */
    unsigned assumed;                     /* readings that were replaced by the values below */
    double elevation_m, salinity_g_kg;    /* as used */
    bool salt_from_chloride;              /* the salinity was calculated from the chloride */
    bool chloride_from_salinity;          /* the chloride that is judged, the other way round */
    bool contradictory; /* alkalinity too low for that pH: no inorganic carbon is left */
};

/* Elevation 0 is assumed where not given, ammonia 0 in the carbonate balance, no chloride that would
 * make nitrite less poisonous; salinity follows from the chloride, or is assumed 0. Nothing else is
 * guessed.
 *
 * Chloride is that of the reading or that of the salinity, whichever is more. Ammonia without pH or
 * temperature, carbon dioxide and oxygen as a share of full without temperature are judged by the
 * mildest and the worst case between TL_SAMPLE_PH_LEAST and _MOST and 0 and 40 degC: what even the
 * mildest is, the water is; what only the worst is, it may be. Of oxygen only danger counts there. */
void tl_sample_judge(const struct tl_sample *s, const struct tl_limits *limits,
                     struct tl_figures *out);

/* "within limits", "caution", "danger", "caution: outside published range", "cannot be told". */
/* Water that left a published range is never within limits. What cannot be told counts as the worst it
 * may be. */
enum tl_grade tl_figures_grade(const struct tl_figures *f);
const char *tl_figures_verdict(const struct tl_figures *f);

/* Inorganic carbon and carbon dioxide (mol/m3) of a sample with temperature, pH and alkalinity;
 * ammonia counts as 0 where not measured. False where one is missing or they cannot stand together. */
bool tl_sample_carbon(const struct tl_sample *s, double *tic_mol_m3, double *co2_mol_m3);
/* Un-ionised ammonia, gN/m3; NAN where it cannot be told. */
double tl_sample_nh3(const struct tl_sample *s);

#endif
