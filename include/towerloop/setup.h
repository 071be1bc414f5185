/* The loop as the engine sees it: everything physical, in base units (m, m3, d, g, degC; fractions
 * as 0..1). A scenario (scenario.h) is read into one; tl_model_build() turns one into a model.
 *
 * Times are days since 00:00 of the start date ("day 0"), so that "day 20 14:00" is 20 + 14/24. */
#ifndef TOWERLOOP_SETUP_H
#define TOWERLOOP_SETUP_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/component.h"
#include "towerloop/params.h"
#include "towerloop/pipe.h"

#define TL_NAME_SIZE 128 /* names of fish groups and media; longer ones are refused by the reader */

struct tl_table { /* y over x, linear between, held constant beyond the ends; x strictly rising */
    double *x;
    double *y;
    size_t n;
};
double tl_table_at(const struct tl_table *t, double x);
/* The last point at or before x; x[0] <= x < x[n - 1]. */
size_t tl_table_before(const struct tl_table *t, double x);
void tl_table_free(struct tl_table *t);

enum tl_temperature_kind {
    TL_TEMPERATURE_CONSTANT,
    TL_TEMPERATURE_SINES,
    TL_TEMPERATURE_READINGS,
    TL_TEMPERATURE_WEATHER /* of the water only: worked out from the weather */
};
struct tl_temperature { /* of the water, or of the air */
    enum tl_temperature_kind kind;
    double mean_degC;           /* the constant value, too */
    double seasonal_swing_degC; /* half of peak to peak */
    double warmest_noon_d;      /* noon of the warmest day, days since day 0 (any year's) */
    double daily_swing_degC;    /* half of peak to peak; warmest at 16:00 */
    double warmer_degC;         /* added to all of the above and to the readings */
    struct tl_table readings;   /* x: days since day 0, y: degC */
};
/* At an instant, days since day 0; NAN for TL_TEMPERATURE_WEATHER. */
double tl_temperature_at(const struct tl_temperature *t, double t_d);
/* The same of water, which `warmer_degC` brings to 0 degC and to 40 degC at the utmost. */
double tl_water_temperature_at(const struct tl_temperature *t, double t_d);

/* A longer gap between readings of the weather is worth a warning, and the sun is reckoned across it;
 * a little over 3 h, so that a log of every third hour has none. */
#define TL_WEATHER_GAP_D (3.001 / 24)

/* What stands in for a constant value where a log has it; the y of its table. */
enum tl_weather_log {
    TL_LOG_HUMIDITY, /* 0..1 */
    TL_LOG_WIND,     /* m/s */
    TL_LOG_CLOUD,    /* 0..1 */
    TL_LOG_SUN,      /* W/m2 on level ground; without it the sun is reckoned */
    TL_NWEATHER_LOG
};
struct tl_weather {
    /* Before it the water was worked out already and is temperature.readings; there must be no ice at
     * it. Not of a scenario: for many runs that differ from one instant on. 0: nothing is known. */
    double known_until_d;
    struct tl_table
        frozen; /* that is known with it: share of the surface closed by ice over days */
    bool given; /* false: nothing below is used */
    struct tl_temperature air;
    double humidity;     /* relative, 0..1 */
    double wind_m_s;     /* over the water */
    double cloud;        /* covered share of the sky, 0..1 */
    double latitude_deg; /* south is negative */
    double shade;        /* share of the sun kept off the water, 0..1 */
    double day_of_year;  /* of day 0; 1 is 1 January */
    struct tl_table log[TL_NWEATHER_LOG];
};

struct tl_heater {
    double power_w;   /* 0: none */
    double keep_degC; /* it heats below this */
};

struct tl_basin { /* tank or settling chamber */
    double volume_m3;
    double surface_m2;
    double walls_m2; /* wetted */
};

enum tl_biofilm { TL_BIOFILM_NEW, TL_BIOFILM_SEEDED, TL_BIOFILM_MATURE };
struct tl_tower {
    int trays;            /* >= 1 */
    double media_depth_m; /* of one tray */
    double plan_area_m2;
    char media[TL_NAME_SIZE]; /* name of the row in the media table */
    double specific_surface_m2_m3;
    double media_size_m;
    double void_fraction;
    double critical_surface_tension_n_m;
    enum tl_biofilm biofilm;
    bool biofilm_assumed; /* the scenario does not say how it begins */
    double seeded_share;  /* of mature, for TL_BIOFILM_SEEDED */
    bool submerged;       /* media under water: no air, all of it wetted */
    double stays_moist_d; /* after the water stops, before the extra die-off; NAN: tl_moist_d() */
    double die_off_1_d;   /* extra die-off once dry */
    double tray_gap_m;    /* free height above the media of each tray */
    double lowest_tray_m; /* its bottom above the tank's water */
};
/* From the tank's water to the top of the stack, m. */
double tl_tower_lift_m(const struct tl_tower *t);

/* What moves the water: a flow that is given (tl_setup.pump_flow_m3_d), or equal pumps side by side by
 * their curve. See pump.h. */
struct tl_pump {
    int count; /* 1..TL_MOST_PUMPS */
    /* Of one pump: x head in m, y flow in m3/d, falling to 0; empty: the flow is given. */
    struct tl_table curve;
    double head_m;       /* height it lifts to above the tank's water; NAN: the top of the stack */
    struct tl_pipe pipe; /* length_m NAN: none, and nothing is lost in it */
    double fouling_1_d;  /* share of the clean flow lost a day since it was last clean */
};
#define TL_MOST_PUMPS        10
#define TL_MOST_CURVE_POINTS 50

struct tl_source { /* source water; alkalinity and pH are given, inorganic carbon follows */
    double water[TL_NWATER]; /* TL_TIC unused; TL_O2 used when o2_given */
    double ph;
    bool o2_given;   /* otherwise saturated at the loop's temperature */
    bool chloramine; /* the residual chlorine is chloramine */
    /* sodium thiosulfate is stirred in before it is let in; of the source water only */
    bool dechlorinated;
};

struct tl_fish { /* one group at the start or added */
    char name[TL_NAME_SIZE];
    double count;
    double mean_mass_g;
};

enum tl_ration_kind { TL_RATION_PER_BIOMASS, TL_RATION_MASS, TL_RATION_TABLE };
struct tl_ration {
    enum tl_ration_kind kind;
    double value;          /* 1/d of biomass, or g/d shared over the groups by biomass */
    struct tl_table table; /* 1/d over degC */
};

/* Koi and carp hardly digest in colder water; common practice, no source. */
#define TL_TOO_COLD_TO_FEED_DEGC 8.0
/* Of the fish's mass a day; less is no feeding. Judgement. */
#define TL_CRUMB_1_D 2e-4

struct tl_feeding {
    struct tl_ration ration;
    double protein;  /* fraction of feed */
    double uneaten;  /* fraction of each meal */
    double appetite; /* what is given, as a multiple of ration or log */
    int *meal_s;     /* seconds after midnight, rising, distinct */
    size_t meals;    /* >= 1 unless the ration is 0 */
    struct tl_table
        log; /* meals as they were given: g over days since day 0; instead of the ration */
    double none_below_degC; /* no meal of the ration in colder water */
    bool grows;             /* false: growth none */
    double feed_conversion; /* feed per gain, with growth */
};

enum tl_event_kind {
    TL_EVENT_PUMP_FLOW,     /* value m3/d; 0 = off; TL_EVENT_PUMP_ON below restores */
    TL_EVENT_PUMP_ON,       /* the scenario's flow again */
    TL_EVENT_PUMPS_RUNNING, /* value: how many of them, 0..count */
    TL_EVENT_TO_TOWER,      /* value: fraction of the flow */
    TL_EVENT_AERATOR,       /* value g/d; 0 = off */
    TL_EVENT_AERATOR_ON,    /* the scenario's transfer again */
    TL_EVENT_COVER,         /* value: covered share of the water, 0..1 */
    TL_EVENT_COVER_ON,      /* the scenario's cover again */
    TL_EVENT_HEATER_OFF,
    TL_EVENT_HEATER_ON,
    TL_EVENT_ADD_FISH,     /* fish */
    TL_EVENT_REMOVE_FISH,  /* fish.name, fish.count */
    TL_EVENT_RATION,       /* ration */
    TL_EVENT_WATER_CHANGE, /* value: fraction of the tank */
    TL_EVENT_DOSE,         /* dose, by, value: g, eq/m3, g/m3 or a ratio */
    TL_EVENT_CLEAN_CHAMBER,
    TL_EVENT_CLEAN_TRAY, /* tray: 1..n */
    TL_EVENT_CLEAN_TRAYS,
    TL_EVENT_CLEAN_PUMP,
    TL_EVENT_HOSE_TRAY, /* tray: algae are hosed off */
    TL_EVENT_HOSE_TRAYS,
    TL_EVENT_KNOCK_OUT, /* value: share of the living film; where */
    TL_EVENT_DEAD_FISH, /* fish.name, fish.count; for_d: taken out then, 0: never */
    TL_NEVENT
};

/* Molar masses: sodium hydrogen carbonate carries one eq of alkalinity and one mol of carbon. */
#define TL_BAKING_SODA_G_PER_EQ          84.007
#define TL_CHLORIDE_G_PER_G_SALT         0.6066 /* of sodium chloride */
#define TL_TAN_G_PER_G_AMMONIUM_CHLORIDE 0.2619
enum tl_dose {
    TL_DOSE_BAKING_SODA,
    TL_DOSE_SALT,
    TL_DOSE_AMMONIUM_CHLORIDE,
    TL_DOSE_THIOSULFATE, /* sodium thiosulfate crystals, 5 H2O */
    /* medicine, the pure substance; see shock.h */
    TL_DOSE_FORMALDEHYDE,
    TL_DOSE_PEROXIDE,
    TL_DOSE_CHLORAMINE_T,
    TL_NDOSE
};
/* A dose is a mass, or what tank and chamber lack at that moment. */
enum tl_dose_by {
    TL_DOSE_MASS,
    /* baking soda: alkalinity, eq/m3; salt: chloride, g/m3; medicine: g/m3, what an earlier dose left
     * not counted on */
    TL_DOSE_TO_CONTENT,
    TL_DOSE_TO_RATIO /* salt: chloride to the tank's nitrite nitrogen, by mass */
};

/* Baking soda given whenever the alkalinity lies below a floor. */
struct tl_dosing {
    double hold_alkalinity_eq_m3; /* mean of tank and chamber; 0: no such plan */
    double every_d;               /* between looks; 0: after each water change */
    int at_s;                     /* clock time of the looks, seconds after midnight */
    double at_most_g;             /* at one look; INFINITY: no bound */
};

/* The settling chamber is emptied by plan: first so long after day 0, at this clock time. */
struct tl_emptying {
    double every_d; /* 0: never */
    int at_s;       /* seconds after midnight */
};

/* Below a tenth of the least load of common practice Onda's formula wets less than half of what it does
 * there, and water runs down in streaks: it counts as none. Judgement, on the safe side. */
#define TL_STREAKS_M_H     0.125
#define TL_STAYS_MOIST_D   0.5           /* media without water, at the most; judgement */
#define TL_RINSE_CONTACT_D (10.0 / 1440) /* default contact with tap water; judgement */

enum tl_where { TL_WHERE_ALL, TL_WHERE_TOWER, TL_WHERE_WALLS };

struct tl_event {
    double at_d;  /* days since day 0 */
    double for_d; /* > 0: the former value comes back; 0: stays */
    enum tl_event_kind kind;
    enum tl_where where; /* film is knocked out */
    double value;
    int tray;
    enum tl_dose dose;
    enum tl_dose_by by;
    bool tap_water;   /* trays: rinsed in untreated source water, else in the tank's own */
    bool logged;      /* from the file of deliveries */
    bool of_power;    /* the mains did it, with all else that they drive */
    double contact_d; /* with it */
    struct tl_fish fish;
    struct tl_ration ration;
    unsigned line; /* of the scenario file, or of the deliveries; for messages; 0 = none */
};

/* Sunlight on tower and tank: as the weather has it, or else the same every day. */
struct tl_sun {
    bool given; /* false: no light, no algae */
    double
        hours_d; /* length of the sunny part of the day, around 12:00; the light is a half-sine */
    double noon_w_m2; /* sun and sky light on level ground at noon */
    double shaded;    /* share of it kept off the tower */
    double tank_shaded;
};

struct tl_setup {
    double start_d; /* start of the run, days since day 0 (0 <= start_d < 1) */
    double length_d;
    double elevation_m;
    struct tl_temperature temperature;
    struct tl_weather weather;
    struct tl_heater heater;
    double cover;            /* share of the surface of tank and chamber under a cover, 0..1 */
    double wall_loss_w_m2_k; /* of tank and chamber to the air, by area of wetted wall */
    double source_degC;      /* NAN: the air's mean */
    double start_degC;       /* NAN: the air's mean of the first day */
    struct tl_basin tank;
    struct tl_basin chamber;
    struct tl_emptying emptying;
    /* Of all pumps together at the start, clean. With a curve it follows from that: the scenario reader
     * and tl_model_build() fill it in. */
    double pump_flow_m3_d;
    struct tl_pump pump;
    double to_tower; /* fraction of the flow that crosses the tower */
    struct tl_tower tower;
    double aerator_g_d; /* SOTR */
    struct tl_source source;
    struct tl_source starting; /* what tank and chamber hold at the start; complete */
    struct tl_sun sun;
    double green_g_m3;     /* gCOD/m3 of green water at the start, with sun; 0: never any */
    double trickle_1_d;    /* source water flowing in, share of the tank's volume a day */
    double change_every_d; /* 0 = never; first change one interval after the start */
    double change_amount;  /* fraction of the tank */
    double no_change_from_d,
        no_change_to_d; /* those of `change_every_d` are left out in this time; equal: never */
    struct tl_fish *fish;
    size_t fish_groups;
    struct tl_feeding feeding;
    struct tl_dosing dosing;
    struct tl_params params;
    struct tl_event *event; /* in file order */
    size_t events;
};

/* A loop without fish or events, every field at its documented default. */
void tl_setup_default(struct tl_setup *s);
/* Deep copy; TL_OK or TL_E_MEMORY (then *to is empty and may be freed). */
int tl_setup_copy(struct tl_setup *to, const struct tl_setup *from);
void tl_setup_free(struct tl_setup *s);
/* How many events before this one leave dead fish. */
size_t tl_dead_before(const struct tl_setup *s, size_t event);
/* Whether fish are in the tank at any time, from the start or by an event. */
bool tl_setup_ever_fish(const struct tl_setup *s);
/* The largest share of the tank that is changed at once, where fish are in at any time; 0: none is. */
double tl_setup_most_change(const struct tl_setup *s);
/* Sodium thiosulfate for all the chlorine in so much source water, g. */
double tl_thiosulfate_g(const struct tl_setup *s, double source_water_m3);

#endif
