/* How long a loop endures a failure of its pump, its aerator or the power, and what helps.
 *
 * Nothing here is a model of its own: each case is the scenario with a few events more, run by the
 * engine. A failure begins at the worst hour, or when it was asked for, and lasts for the outage; what
 * the scenario plans for later is left out, and what it had changed for a time is as it was before.
 * Meals, trickle and water changes go on. */
#ifndef TOWERLOOP_ENDURE_H
#define TOWERLOOP_ENDURE_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/engine.h"
#include "towerloop/limits.h"
#include "towerloop/ranges.h"
#include "towerloop/scenario.h"

/* id, name, what it is in words */
#define TL_FAILURE_LIST(X)                                                                         \
    X(TL_FAILURE_POWER, "power", "pump and aerator stop")                                          \
    X(TL_FAILURE_PUMP, "pump", "only the pump stops")                                              \
    X(TL_FAILURE_AERATOR, "aerator", "only the aerator stops")                                     \
    X(TL_FAILURE_HALF, "half", "one of two equal pumps stops")

enum tl_failure {
#define TL_FAILURE_ENUM(id, name, words) id,
    TL_FAILURE_LIST(TL_FAILURE_ENUM)
#undef TL_FAILURE_ENUM
        TL_NFAILURE
};
const char *tl_failure_name(enum tl_failure f);
const char *tl_failure_words(enum tl_failure f);

/* --- when it fails ------------------------------------------------------------------------------ */

struct tl_worst_hour {
    double at_d;             /* days since day 0: the failure begins */
    double o2;               /* mean over the hour from there if nothing fails, g/m3 */
    double water[TL_NWATER]; /* the same of all that is in the tank's water */
    double temperature_degC;
    double fish_kg;
    double flow_m3_d; /* what the pump and the aerator did just before */
    double aerator_g_d;
};

/* id, name, which day of the scenario it is */
#define TL_ENDURE_DAY_LIST(X)                                                                      \
    X(TL_ENDURE_DAY_OXYGEN, "lowest oxygen", "the day of lowest oxygen")                           \
    X(TL_ENDURE_DAY_WARMEST, "warmest", "the warmest day with fish")                               \
    X(TL_ENDURE_DAY_COLDEST, "coldest",                                                            \
      "the day of coldest air with fish") /* where weather makes it */                             \
    X(TL_ENDURE_DAY_FISH, "most fish", "the day with most fish")                                   \
    X(TL_ENDURE_DAY_LAST, "last", "the last day with fish")                                        \
    X(TL_ENDURE_DAY_ASKED, "asked", "the day that was asked for")                                  \
    X(TL_ENDURE_DAY_END, "end", "in the day after the end, as the last day left it")

enum tl_endure_day {
#define TL_ENDURE_DAY_ENUM(id, name, words) id,
    TL_ENDURE_DAY_LIST(TL_ENDURE_DAY_ENUM)
#undef TL_ENDURE_DAY_ENUM
        TL_NENDURE_DAY
};
const char *tl_endure_day_name(enum tl_endure_day d);
const char *tl_endure_day_words(enum tl_endure_day d);

#define TL_ENDURE_STAGES 4 /* of the film: after 2, 6, 12 and 24 h */
extern const double tl_endure_stage_d[TL_ENDURE_STAGES];

/* What a failure does to the water's temperature, where it follows from the weather. */
struct tl_endure_frost {
    double chill;         /* nearest to a danger limit of temperature, 1 = there; 0: nowhere near */
    double limit;         /* that limit: an enum tl_limit_id, from TL_LIMIT_COLD on */
    double worst, danger; /* in units of struct tl_limit_verdict */
    double passed_min;    /* danger of cold or warmth passed; INFINITY: never; 0: before it fails */
    double before;        /* 1: beyond that limit on the day before the failure too, else 0 */
    double ice_min;       /* as in struct tl_endured; 0: there was ice before */
    double most_ice_kg;
};

/* A start of the failure that was tried. Minutes as in struct tl_endured below; of the only one nothing is
 * known here (NAN), as it is not run on its own. */
struct tl_endure_start {
    struct tl_worst_hour when;
    enum tl_endure_day day;
    double caution_min, danger_min, lost_min, lowest_o2;
    double lost_before_d;
    double film_left[2];                 /* what oxidises ammonia and nitrite */
    double stage_left[TL_ENDURE_STAGES]; /* the less of the two */
    struct tl_endure_frost frost;
};

#define TL_ENDURE_MOST_STARTS (6 * 24)

struct tl_endure_starts {
    struct tl_endure_start start[TL_ENDURE_MOST_STARTS];
    size_t n;
    size_t days; /* of how many days */
    /* Soonest in danger of oxygen; among those alike soonest lost, then of lowest oxygen. Where oxygen holds at
     * all of them, that of lowest oxygen on the day of the warmest. Frost and ice never choose it. */
    size_t worst;
    size_t caution; /* soonest below caution, else of lowest oxygen */
    size_t lost;    /* soonest below what kills, else the same */
    size_t film;    /* least is left of the film */
    size_t warmest;
    /* Ice or a temperature beyond danger that the failure makes, soonest in ice, then furthest beyond; else
     * where it was so before; n: nowhere */
    size_t frost;
};

/* Whether the water freezes or its temperature passes danger. */
bool tl_endure_freezes(const struct tl_endure_frost *f);

/* --- one case ----------------------------------------------------------------------------------- */

struct tl_endure_case {
    enum tl_failure fails;
    double outage_d; /* > 0 */
    double follow_d; /* how long it is followed after the outage, >= 0 */
    double fish;     /* share of the scenario's fish and of feed given by mass; 1 = as they are */
    double warmer_degC; /* within 0 to 40 degC where it fails */
    bool feed_stopped;  /* from the failure until the power is back */
    double extra_g_d;   /* an emergency aerator, its transfer as that of `aerator` */
    double extra_for_d; /* how long it runs; at most the outage counts */
    bool judged;        /* by all limits and published ranges, from the failure to the end */
};

/* One limit after the failure, in units of struct tl_limit_verdict. */
struct tl_endured_limit {
    double worst, caution, danger; /* NAN: none */
    double grade;                  /* an enum tl_grade */
    double before;                 /* that of the day before the failure */
};

/* Guilds of the film, in the order of the arrays below: ammonia oxidisers, nitrite oxidisers,
 * heterotrophs. */
#define TL_ENDURE_GUILDS 3

/* Concentrations in g/m3 (nitrogen as N); NAN: not to be told. Minutes count from the failure and are
 * INFINITY when the outage ends before. */
struct tl_endured {
    double o2_before;
    double caution_min, danger_min,
        lost_min; /* oxygen below the limits, at the latest when they die */
    double
        lost_before_d; /* when they were lost before it fails, by what else the scenario has; NAN: not */
    double lowest_o2; /* until the power is back */
    /* Where the water follows from the weather: minutes after the failure at which there is ice, then
     * or by the end of what was followed (INFINITY: never); most of it; the water (degC) when the
     * power is back (NAN: its temperature was given). */
    double ice_min, most_ice_kg, water_back_degC;
    double cold_min,
        warm_min; /* the water beyond the danger limits of cold and warmth; 0: before it fails */
    double film_left[TL_ENDURE_GUILDS]; /* in the trays when the power is back, 1 = all */
    double stage_left[TL_ENDURE_STAGES][TL_ENDURE_GUILDS]; /* NAN beyond the outage */
    /* highest in the tank from the failure on */
    double peak_tan, peak_nh3, peak_no2;
    double nh3_tan, nh3_ph; /* total ammonia and pH when un-ionised ammonia is highest */
    struct tl_endured_limit limit[TL_NLIMIT]; /* where the case is judged; else NAN */
    double outside[TL_NRANGE];                /* furthest outside a published range; NAN: never */
    /* Days from the end of the outage until un-ionised ammonia, nitrite and oxygen are back beyond no
     * caution limit for good, or back where they were on the day before the failure if that was
     * beyond. INFINITY: not in the days followed; NAN: nothing followed, or fish were lost. */
    double nh3_back_d, no2_back_d, o2_back_d;
    /* the course of oxygen: at 0, 1, … times TL_ENDURE_CURVE_MIN after the failure */
    double *curve_o2;
    size_t curve_points;
    char fault[TL_FAULT_SIZE]; /* why this case could not be reckoned to its end; empty: it was */
};

#define TL_ENDURE_CURVE_MIN 5.0

/* Run one case. TL_OK (look at out->fault), TL_E_INTERRUPTED or TL_E_MEMORY. */
int tl_endure_run(const struct tl_scenario *s, const struct tl_worst_hour *when,
                  const struct tl_endure_case *c, const volatile int *interrupted,
                  struct tl_endured *out);
void tl_endured_free(struct tl_endured *e);

/* What the sized aerator keeps oxygen above danger by; common practice, no source. */
#define TL_ENDURE_MARGIN_O2 0.5

/* The least transfer of an emergency aerator that keeps oxygen TL_ENDURE_MARGIN_O2 above danger (the
 * critical value where there is no such limit) through the outage of `c`, to one part in a hundred, on
 * the safe side; 0 when none is needed, INFINITY when none will do. It does so at each start of the day
 * of the worst one, and at the start of lowest oxygen of each other day. Status as above. */
int tl_endure_need(const struct tl_scenario *s, const struct tl_endure_starts *starts,
                   const struct tl_endure_case *c, const volatile int *interrupted,
                   double *transfer_g_d);

/* --- the whole study ---------------------------------------------------------------------------- */

#define TL_ENDURE_FISH    5 /* stocking levels of the table */
#define TL_ENDURE_WARMTHS 4 /* temperatures of the table */
extern const double tl_endure_fish[TL_ENDURE_FISH];
extern const double tl_endure_warmer_degC[TL_ENDURE_WARMTHS];

/* id, key, what is tried against the failure that is asked about */
#define TL_HELP_LIST(X)                                                                            \
    X(TL_HELP_FEED, "feed_stopped")                                                                \
    X(TL_HELP_COOLER, "cooler")                                                                    \
    X(TL_HELP_BATTERY, "battery")                                                                  \
    X(TL_HELP_AERATOR, "emergency_aerator")

enum tl_help {
#define TL_HELP_ENUM(id, key) id,
    TL_HELP_LIST(TL_HELP_ENUM)
#undef TL_HELP_ENUM
        TL_NHELP
};

#define TL_HELP_COOLER_DEGC 2.0 /* what shade is tried with; common practice, no source */

/* Oxygen an aerator brings in per energy, standard conditions. Diffused air: 0.7 to 1.2 kg/kWh (Boyd
 * 1998, Aquacultural Engineering 18:9-40, from memory); the lower end, as tanks are shallow. */
#define TL_AERATION_G_KWH 700.0

struct tl_endure_question {
    enum tl_failure fails; /* what the helps and the table are about */
    double outage_d;
    double day;     /* of the scenario; NAN: the worst */
    double clock_d; /* 0..1, share of the day; NAN: the worst full hour */
    double
        aerator_g_d; /* the emergency aerator; 0: as the loop's own, or 240 g/d where it has none */
    double battery_wh, battery_w;
    double aeration_g_kwh;
    bool rows; /* the rows of a card are wanted, too */
};
void tl_endure_question_default(struct tl_endure_question *q);

#define TL_ENDURE_FOLLOW_D 14.0

/* id, key: the rows of a card. Each is tried at every hour of the day at which the fish are soonest in danger (or
 * under stress, or lost), and at the worst hour of the other days; of the failure that is asked about the starts tell it. */
#define TL_ENDURE_ROW_LIST(X)                                                                      \
    X(TL_ENDURE_ROW_POWER, "power")                                                                \
    X(TL_ENDURE_ROW_PUMP, "pump")                                                                  \
    X(TL_ENDURE_ROW_AERATOR, "aerator")                                                            \
    X(TL_ENDURE_ROW_WARMER, "warmer_4") /* of the table: all fish in the warmest water */          \
    X(TL_ENDURE_ROW_FISH, "fish_150")   /* most fish in water as it is */

enum tl_endure_row {
#define TL_ENDURE_ROW_ENUM(id, key) id,
    TL_ENDURE_ROW_LIST(TL_ENDURE_ROW_ENUM)
#undef TL_ENDURE_ROW_ENUM
        TL_NENDURE_ROW
};

/* The cases of a study, in the order of their numbers: failures, the long outage for the film, helps,
 * the table row by row, the time after a failure at the warmest hour; then what is no case of its own, but many
 * tries: the size of aerator that would do, and the rows of a card, of which only times and lowest oxygen are told. */
enum tl_endure_number {
    TL_ENDURE_FILM = TL_NFAILURE,
    TL_ENDURE_HELPS,
    TL_ENDURE_TABLE = TL_ENDURE_HELPS + TL_NHELP,
    TL_ENDURE_AFTER = TL_ENDURE_TABLE + TL_ENDURE_FISH * TL_ENDURE_WARMTHS,
    TL_ENDURE_NEED,
    TL_ENDURE_ROWS,
    TL_ENDURE_CASES = TL_ENDURE_ROWS + TL_NENDURE_ROW
};

/* The case of the failures or of the table that is such a row. */
size_t tl_endure_row_case(enum tl_endure_row row);

#define TL_ENDURE_KEY 40

struct tl_endure_uncertain; /* endure_uncertain.h */

struct tl_endure_study {
    const struct tl_scenario *scenario; /* the copy: the study must stay where it is */
    struct tl_scenario copy;            /* water that follows the weather has become readings */
    struct tl_endure_question question; /* completed */
    struct tl_endure_starts starts;
    struct tl_worst_hour when; /* the worst of them */
    struct tl_endure_case plan[TL_ENDURE_CASES];
    char key[TL_ENDURE_CASES][TL_ENDURE_KEY]; /* of files and tables */
    bool done[TL_ENDURE_CASES];
    struct tl_endured result[TL_ENDURE_CASES]; /* of what is done */
    double need_g_d;
    const struct tl_endure_uncertain *uncertain; /* runs over what is uncertain; NULL: none */
};

struct tl_endure_options {
    unsigned threads; /* 0: one a processor */
    const volatile int *interrupted;
    /* Called once for each case when it is done, from several threads; TL_OK or a status that ends the
     * study. May be NULL. */
    int (*keep)(void *arg, const struct tl_endure_study *s, size_t i);
    void *keep_arg;
    void (*progress)(void *arg, size_t done,
                     size_t cases); /* by one thread at a time; may be NULL */
    void *progress_arg;
};

/* Where a failure could begin, tried by runs, and the worst of them. Without a day in `q` the days are
 * those of lowest oxygen, of warmest water, with weather of coldest air, of most fish and the last, out of
 * the whole days with fish;
 * without a clock, their full hours at which what shall fail does run. Left out, where there are others:
 * the hours at which the scenario itself has stopped something for at most three days, and the day after.
 * Of `o` threads, interrupted and progress count. TL_OK; TL_E_INPUT with a reason in `why` (no such day, no
 * fish, nothing runs that could fail); TL_E_SOLVER with one; TL_E_INTERRUPTED; TL_E_MEMORY. */
int tl_endure_find(const struct tl_scenario *s, const struct tl_endure_question *q,
                   const struct tl_endure_options *o, struct tl_endure_starts *out,
                   char why[TL_FAULT_SIZE]);

/* Find the hour and draw up the cases; none is done. Status and `why` as tl_endure_find(); after a
 * failure nothing is to be freed. */
int tl_endure_plan(const struct tl_scenario *s, const struct tl_endure_question *q,
                   const struct tl_endure_options *o, struct tl_endure_study *out,
                   char why[TL_FAULT_SIZE]);

/* How many there are of this study: the rows come last, and only where they are wanted. */
size_t tl_endure_cases(const struct tl_endure_study *s);

/* Whether a start that was tried is one at which the rows are tried, too. */
bool tl_endure_is_tried(const struct tl_endure_starts *s, size_t i);

/* When case `i` fails. */
const struct tl_worst_hour *tl_endure_hour(const struct tl_endure_study *s, size_t i);

/* What frost or heat comes to at worst, in `out`, and when; NULL: neither is danger. After the study was run. */
const struct tl_worst_hour *tl_endure_coldest(const struct tl_endure_study *s,
                                              struct tl_endure_frost *out);

/* Do the cases that are not done. TL_OK, TL_E_INTERRUPTED (what was begun is done), TL_E_MEMORY or
 * what keep() returned. */
int tl_endure_study_run(struct tl_endure_study *s, const struct tl_endure_options *o);
void tl_endure_study_free(struct tl_endure_study *s);

/* What a result depends on besides the question: the scenario with its readings and the build, as a
 * short text. TL_OK, TL_E_IO or TL_E_MEMORY. */
#define TL_ENDURE_PRINT 20
int tl_endure_print(const struct tl_scenario *s, char text[TL_ENDURE_PRINT]);

/* A result as a file, so that a study goes on where it was interrupted. Writing: TL_OK, TL_E_IO (errno
 * says why) or TL_E_MEMORY. Reading: false when the file is not there, not whole, or of another print. */
int tl_endure_keep(const struct tl_endure_study *s, size_t i, const char *print, const char *path);
bool tl_endure_fetch(struct tl_endure_study *s, size_t i, const char *print, const char *path);

#endif
