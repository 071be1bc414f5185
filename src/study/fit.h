/* The few parameters of a scenario that a log of readings can tell, by least squares. */
#ifndef TL_STUDY_FIT_H
#define TL_STUDY_FIT_H

#include <stdbool.h>

#include "least_squares_profile.h"
#include "towerloop/measured.h"
#include "towerloop/scenario.h"

#define TL_FIT_MOST                                                                                \
    4 /* parameters that are chosen by themselves; asked for: up to TL_SQUARES_MOST */
#define TL_FIT_PATH    96
#define TL_FIT_SETTING 160

/* What may be fitted without being asked for: key, least and most as a multiple of the default (as
 * such where `by` is 0), and why these. */
/* clang-format off */
#define TL_FIT_LIST(X)                                                                             \
    X("tower.specific surface", 0.25, 2, "judgement: what of the media is wetted")                 \
    X("parameters.mu_aob", 0.5, 2, "judgement")                                                    \
    X("parameters.b_aob", 0.4, 3.75, "published: Sin et al. 2008, up to 0.30 1/d")                 \
    X("parameters.mu_nob", 0.5, 2, "judgement")                                                    \
    X("parameters.new_aob", 0.05, 20, "judgement: what new media begin with")                      \
    X("parameters.new_nob", 0.05, 20, "judgement: what new media begin with")                      \
    X("parameters.mature_aob", 0.2, 2, "judgement: what the film begins with")                     \
    X("parameters.mature_nob", 0.2, 2, "judgement: what the film begins with")                     \
    X("parameters.n_feed", 0.6, 1.5, "judgement")                                                  \
    X("parameters.k_surface", 0.2, 4, "judgement: 0 to some 2.4 m/d")                              \
    X("parameters.v_settle", 0.2, 5, "judgement")
/* clang-format on */

/* A parameter that may be fitted. Values in base units. */
struct tl_fit_quantity {
    char path[TL_FIT_PATH]; /* of its key */
    const char *source;     /* of the range */
    double given;           /* the scenario's own */
    double told; /* half of the 90 % interval, as a share of the range, fitted alone: 1 and
                               more: the readings tell nothing. NAN: not looked at */
    struct tl_squares_axis range;
    enum tl_dim dim;
    int not_from; /* quantity that it cannot be told from; -1 */
    bool chosen;
    bool taken_back; /* once fitted, any value of its range turned out to be within its interval */
};

struct tl_fit_question {
    const char *const *key; /* what is to be fitted; none: what the readings tell */
    size_t keys;
    double hold_back;  /* share of the readings, the last ones, that the fit is tried on; 0..0.9 */
    double forecast_d; /* how far to look beyond the last reading; 0: not */
};

struct tl_fit_bench {       /* where runs are made */
    const char *file;       /* of the scenario */
    const char *const *set; /* KEY=VALUE */
    size_t sets;
    unsigned threads; /* 0: one a processor; the result does not depend on it */
    const volatile int *interrupted;
    void (*progress)(void *arg, size_t runs); /* by one thread at a time; may be NULL */
    void *progress_arg;
};

enum tl_fit_use {
    TL_FIT_USED,
    TL_FIT_HELD,   /* back, while it was tried */
    TL_FIT_NO_RUN, /* before the run or behind it */
    TL_FIT_NO_WATER,
    TL_FIT_REPEATED /* the same as one before it: written down twice, not read twice */
};

struct tl_fit_point { /* of a reading */
    enum tl_fit_use use;
    double error;         /* standard, base units */
    double before, after; /* what the model says, with the scenario's values and the fitted ones */
    double off_before, off_after; /* residuals, in standard errors; NAN: none */
    double tried;  /* of what was held back: the residual of the fit to the others; else NAN */
    double weight; /* that the loss gave it; 0..1 */
};

struct tl_fit_forecast {
    enum tl_measured_quantity quantity;
    enum tl_measured_place place;
    double t_d, value;
    double low, high; /* 90 %: of the fitted values alone; NAN where none were fitted */
    double read_low,
        read_high; /* the same with the error of a reading on top: what a test may show */
};

struct tl_fit {
    const struct tl_measured_log *log;
    struct tl_fit_question question;
    struct tl_fit_quantity *quantity;
    size_t quantities;
    size_t fitted[TL_SQUARES_MOST]; /* which of them */
    size_t n;                       /* fitted; 0: the readings tell none */
    struct tl_squares_result result;
    struct tl_squares_profile profile; /* not complete: intervals are the linearised ones */
    struct tl_fit_point *point;        /* one a reading */
    size_t used, held;                 /* used: in the end, those held back included */
    /* root of the mean square of the residuals, without wild readings */
    double rms_before, rms_after;
    double rms_held_before, rms_held_tried; /* of those held back; NAN: none were */
    struct tl_fit_forecast *forecast;       /* by quantity and place, then time */
    size_t forecasts;
    size_t runs;
    char setting[TL_SQUARES_MOST][TL_FIT_SETTING]; /* KEY=VALUE of the fitted values */
};

/* The quantity at a key, with its range: of the list above, or from half to twice its value within
 * what the key allows. TL_OK or TL_E_INPUT with the reason. */
int tl_fit_quantity(const struct tl_scenario *s, const char *path, struct tl_fit_quantity *out,
                    char *what, char *expected, size_t size);

/* Choose, try on what is held back, fit to all, look ahead. TL_OK, also where nothing could be told (n is
 * 0); TL_E_INPUT (`why`: what is wrong with a key, or too few readings for those asked for); TL_E_SOLVER (`why`); TL_E_INTERRUPTED; TL_E_MEMORY. Free it in any case. */
int tl_fit_solve(const struct tl_fit_bench *b, const struct tl_measured_log *log,
                 const struct tl_fit_question *q, struct tl_fit *out, char *why, size_t size);
void tl_fit_free(struct tl_fit *f);
/* The 90 % interval of fitted value `j`. An open end is one of the range: the readings fit as well there. */
struct tl_fit_interval {
    double low, high;
    bool low_open, high_open;
};
struct tl_fit_interval tl_fit_interval(const struct tl_fit *f, size_t j);
/* Whether reading `i` was so far off that the loss gave it next to no weight. */
bool tl_fit_is_wild(const struct tl_fit *f, size_t i);
/* How many of these show worse water than the fitted model: more ammonia, nitrite, nitrate, chlorine or carbon
 * dioxide, or less oxygen or alkalinity. */
size_t tl_fit_wild_and_worse(const struct tl_fit *f);

/* The scenario with the fitted values. As tl_scenario_read(). */
int tl_fit_scenario(const struct tl_fit_bench *b, const struct tl_fit *f, struct tl_scenario *out,
                    struct tl_diag *diag);

/* Whether fitted value `j` lies at an end of its range: it may well make up for something else. */
bool tl_fit_at_end(const struct tl_fit *f, size_t j);
/* Whether the fit may be built on: it settled, no value lies at an end of its range, and it was tried and was
 * better on what was held back. */
bool tl_fit_is_sound(const struct tl_fit *f);
/* What the scenario of tl_fit_scenario() has that is not known for sure, its own list or the built-in ranges,
 * with the intervals of the fitted values among them; correlations are lost. As tl_scenario_read();
 * TL_E_INPUT also where the list is full. */
int tl_fit_spread(const struct tl_fit_bench *b, const struct tl_fit *f, struct tl_scenario *s,
                  struct tl_diag *diag);

/* Values of the model for a chart: each quantity and place of the log, with the scenario's own values and
 * the fitted ones, every `step_d` between two times. Sorted by place, quantity and time; the caller frees
 * *curve, whatever comes of it. TL_OK, TL_E_INTERRUPTED or TL_E_MEMORY. */
struct tl_fit_curve {
    enum tl_measured_quantity quantity;
    enum tl_measured_place place;
    double t_d, before, after;
};
int tl_fit_curves(const struct tl_fit_bench *b, const struct tl_fit *f, double from_d, double to_d,
                  double step_d, struct tl_fit_curve **curve, size_t *curves);

#endif
