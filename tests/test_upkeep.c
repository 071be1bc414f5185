/* Upkeep by date: the jobs that a scenario plans and that its days show to be due, their words, the
 * files they are written to, and the blank log. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "log_sheet.h"
#include "loops.h"
#include "near.h"
#include "runs.h"
#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/measured.h"
#include "towerloop/status.h"
#include "towerloop/upkeep.h"

#define DAYS  100
#define TRAYS 3

/* A scenario, and days of it that a test makes up. */
struct bench {
    struct tl_scenario s;
    struct tl_upkeep_day day[DAYS];
    double voids_filled[DAYS * TRAYS];
    struct tl_upkeep run;
    struct tl_jobs jobs;
};

static char title[] = "Pond";

static void begin(struct bench *b)
{
    memset(b, 0, sizeof *b);
    reference_loop(&b->s.setup, 40);
    b->s.title = title;
    b->s.start = (struct tl_date){.year = 2027, .month = 5, .day = 1};
    b->s.setup.length_d = DAYS;
    b->s.setup.trickle_1_d = 0;
    b->s.limits.alk.caution = 1.4;
    for (int i = 0; i < DAYS; i++)
        b->day[i] = (struct tl_upkeep_day){.samples = 288,
                                           .alk_least_eq_m3 = 3,
                                           .water_least_degC = 20,
                                           .air_least_degC = INFINITY,
                                           .fed_g = 400,
                                           .fish_kg = 20};
    b->run = (struct tl_upkeep){
        .day = b->day, .days = DAYS, .voids_filled = b->voids_filled, .trays = TRAYS};
}

static void make(struct bench *b)
{
    tl_jobs_free(&b->jobs);
    assert_int_equal(tl_jobs_make(&b->s, &b->run, NAN, DAYS, &b->jobs), TL_OK);
}

static void end(struct bench *b)
{
    tl_jobs_free(&b->jobs);
    free_loop(&b->s.setup);
}

static size_t count(const struct bench *b, enum tl_job_kind kind)
{
    size_t n = 0;
    for (size_t i = 0; i < b->jobs.n; i++)
        n += b->jobs.job[i].kind == kind;
    return n;
}

/* The n-th of a kind, from 0. */
static const struct tl_job *job(const struct bench *b, enum tl_job_kind kind, size_t n)
{
    for (size_t i = 0; i < b->jobs.n; i++)
        if (b->jobs.job[i].kind == kind && n-- == 0)
            return &b->jobs.job[i];
    fail_msg("there is no such job: %s", tl_job_word(kind));
    return NULL;
}

/* --- what is planned ------------------------------------------------------------------------ */

static void quiet_loop(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    make(&b);
    assert_int_equal(b.jobs.n, count(&b, TL_JOB_TEST)); /* once a week */
    assert_int_equal(b.jobs.n, 15);
    near(b.jobs.job[1].t_d, 7, 0);
    end(&b);
}

/* Every event is something to do, but for what is switched. */
static void events(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int k = 0; k < TL_NEVENT; k++)
        add_event(&b.s.setup,
                  (struct tl_event){.at_d = 10.5 + k,
                                    .kind = (enum tl_event_kind)k,
                                    .value = 0.2,
                                    .tray = 2,
                                    .dose = TL_DOSE_SALT,
                                    .fish = {.name = "koi", .count = 3, .mean_mass_g = 100}});
    make(&b);
    size_t planned = 0;
    for (size_t i = 0; i < b.jobs.n; i++) {
        const struct tl_job *j = &b.jobs.job[i];
        const struct tl_job_words w = tl_job_words(&b.s, j, TL_METRIC);
        assert_true(w.what[0] != '\0' && w.why[0] != '\0');
        planned += j->event != NULL;
        if (j->event)
            near(j->t_d, j->event->at_d, 0);
    }
    /* pump, its flow, how many run, share to the tower, aerator, cover, heater: 10 kinds switch
     * something; two are accidents */
    assert_int_equal(planned, TL_NEVENT - 12);
    assert_int_equal(count(&b, TL_JOB_RINSE_TRAY), 2);
    near(job(&b, TL_JOB_CHANGE_WATER, 0)->amount, 2.4, 1e-12);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_CHANGE_WATER, 0), TL_US).what,
                        "change 634 gal of water");
    end(&b);
}

/* Every substance has a name, by mass and by mark. */
static void substances(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int k = 0; k < TL_NDOSE; k++)
        for (int by = TL_DOSE_MASS; by <= TL_DOSE_TO_CONTENT; by++)
            add_event(&b.s.setup, (struct tl_event){.at_d = 1 + k,
                                                    .kind = TL_EVENT_DOSE,
                                                    .dose = (enum tl_dose)k,
                                                    .by = (enum tl_dose_by)by,
                                                    .value = 2});
    make(&b);
    for (size_t i = 0; i < b.jobs.n; i++) {
        const struct tl_job_words w = tl_job_words(&b.s, &b.jobs.job[i], TL_METRIC);
        assert_null(strstr(w.what, "(null)"));
        if (b.jobs.job[i].event && b.jobs.job[i].event->dose >= TL_DOSE_FORMALDEHYDE)
            assert_non_null(strstr(w.why, "a veterinarian decides"));
    }
    end(&b);
}

/* 37 % by mass of 1.08 kg/L, in a round figure 400 g/L (common practice, no source): 244 g are 610 mL,
 * or 20.6 fl oz of 29.5735 mL (NIST Handbook 44, Appendix C). Nobody has formaldehyde itself. */
static void formalin_by_volume(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    add_event(&b.s.setup,
              (struct tl_event){
                  .at_d = 5, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_FORMALDEHYDE, .value = 244});
    make(&b);
    const struct tl_job *j = job(&b, TL_JOB_DOSE, 0);
    assert_string_equal(tl_job_words(&b.s, j, TL_METRIC).what,
                        "610 mL of 37 % solution (244 g of formaldehyde)");
    assert_non_null(strstr(tl_job_words(&b.s, j, TL_US).what, "20.6 fl oz of 37 % solution ("));
    b.s.setup.event[0].value = 1000;
    make(&b);
    assert_non_null(strstr(tl_job_words(&b.s, job(&b, TL_JOB_DOSE, 0), TL_METRIC).what,
                           "2.5 L of 37 % solution (1"));
    end(&b);
}

/* 3 m3 of 2 g/m3 every 30 days. */
static void change_chlorinated(struct tl_setup *s)
{
    s->change_every_d = 30;
    s->change_amount = 0.25;
    s->source.water[TL_HOCL] = 2;
    s->params.thiosulfate_per_chlorine = 7;
}

static void water_changes_with_chlorine(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    change_chlorinated(&b.s.setup);
    add_event(&b.s.setup,
              (struct tl_event){
                  .at_d = 60, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_THIOSULFATE, .value = 50});
    make(&b);
    assert_int_equal(count(&b, TL_JOB_CHANGE_WATER), 3);
    assert_int_equal(count(&b, TL_JOB_DECHLORINATE), 3);
    near(job(&b, TL_JOB_DECHLORINATE, 0)->amount, 3 * 2 * 7, 1e-12);
    near(job(&b, TL_JOB_DECHLORINATE, 1)->amount, 50, 0); /* the scenario's own */
    near(job(&b, TL_JOB_DECHLORINATE, 2)->t_d, 90, 0);
    assert_true(job(&b, TL_JOB_CHANGE_WATER, 0)->all_day);
    /* the crystals come first */
    assert_true(job(&b, TL_JOB_DECHLORINATE, 0) < job(&b, TL_JOB_CHANGE_WATER, 0));
    end(&b);
}

/* 3 m3 on day 60 by plan and 2.4 m3 by an event, of 2 g/m3: 5.4 x 2 x 7 = 75.6 g; on day 45 a chamber of 3 m3
 * that is emptied by plan: 42 g. A scenario that doses less is
 * told; one that doses as much, or more, or without new water, is not. */
static void too_little_dechlorinator(void **state)
{
    static const struct {
        double at_d, planned_g, asked_g;
    } of[] = {{60, 50, 75.6}, {60, 75, 75}, {60, 80, 80}, {61, 1, 1}, {30, 41, 42}, {45, 5, 42}};
    (void)state;
    for (size_t i = 0; i < sizeof of / sizeof *of; i++) {
        struct bench b;
        char told[128];
        begin(&b);
        change_chlorinated(&b.s.setup);
        b.s.setup.chamber.volume_m3 = 3;
        b.s.setup.emptying = (struct tl_emptying){.every_d = 45, .at_s = 0};
        add_event(&b.s.setup,
                  (struct tl_event){.at_d = 60, .kind = TL_EVENT_WATER_CHANGE, .value = 0.2});
        add_event(&b.s.setup, (struct tl_event){.at_d = of[i].at_d,
                                                .kind = TL_EVENT_DOSE,
                                                .dose = TL_DOSE_THIOSULFATE,
                                                .value = of[i].planned_g});
        make(&b);
        const struct tl_job *j = NULL;
        for (size_t k = 0; k < count(&b, TL_JOB_DECHLORINATE); k++)
            j = job(&b, TL_JOB_DECHLORINATE, k)->event ? job(&b, TL_JOB_DECHLORINATE, k) : j;
        assert_non_null(j);
        near(j->amount, of[i].asked_g, 1e-9);
        (void)snprintf(told, sizeof told,
                       "the %g g that the scenario plans are too little for 2 mg/L of chlorine",
                       of[i].planned_g);
        assert_int_equal(strcmp(tl_job_words(&b.s, j, TL_METRIC).why, told) == 0,
                         of[i].asked_g > of[i].planned_g);
        end(&b);
    }
}

/* A refill of the chamber lets in as much as it holds: 3 m3 of 2 g/m3, by plan on day 40 and by an event;
 * the scenario doses against another. */
static void refills_with_chlorine(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.source.water[TL_HOCL] = 2;
    b.s.setup.params.thiosulfate_per_chlorine = 7;
    b.s.setup.chamber.volume_m3 = 3;
    b.s.setup.emptying = (struct tl_emptying){.every_d = 40, .at_s = 0};
    add_event(&b.s.setup, (struct tl_event){.at_d = 50.5, .kind = TL_EVENT_CLEAN_CHAMBER});
    add_event(&b.s.setup,
              (struct tl_event){
                  .at_d = 80, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_THIOSULFATE, .value = 42});
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DECHLORINATE), 3);
    for (size_t i = 0; i < 3; i++)
        near(job(&b, TL_JOB_DECHLORINATE, i)->amount, 42, 1e-12);
    near(job(&b, TL_JOB_DECHLORINATE, 0)->t_d, 40, 0);
    near(job(&b, TL_JOB_DECHLORINATE, 1)->t_d, 50.5, 0);
    end(&b);
}

/* 2 % of 12 m3 a day trickle in, and 95 L a day replace what evaporates: (240 + 95) L x 7 d x 2 g/m3 x
 * 7. */
static void inflow_with_chlorine(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.tank.volume_m3 = 12;
    b.s.setup.source.water[TL_HOCL] = 2;
    b.s.setup.params.thiosulfate_per_chlorine = 7;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DECHLORINATE), 0);
    b.s.setup.weather.given = true;
    for (int i = 0; i < DAYS; i++)
        b.day[i].top_up_m3 = 0.095;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DECHLORINATE), 15);
    near_rel(job(&b, TL_JOB_DECHLORINATE, 0)->amount, 0.095 * 7 * 14, 1e-12);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_DECHLORINATE, 0), TL_METRIC).what,
                        "9.31 g of sodium thiosulfate, spread over the top-up of this week");
    b.s.setup.trickle_1_d = 0.02;
    make(&b);
    near_rel(job(&b, TL_JOB_DECHLORINATE, 1)->amount, 0.335 * 7 * 14, 1e-12);
    near_rel(job(&b, TL_JOB_DECHLORINATE, 14)->amount, 0.335 * 2 * 14, 1e-12); /* 98 to 100 */
    /* without a run nobody knows how much evaporates */
    b.s.setup.trickle_1_d = 0;
    tl_jobs_free(&b.jobs);
    assert_int_equal(tl_jobs_make(&b.s, NULL, NAN, DAYS, &b.jobs), TL_OK);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_DECHLORINATE, 0), TL_METRIC).what,
                        "sodium thiosulfate, spread over the top-up of this week");
    end(&b);
}

/* A mark has the mass that the run gave. */
static void measured_doses(void **state)
{
    static struct tl_upkeep_dose given[] = {
        {.at_d = 20.5, .mass_g = 300, .dose = TL_DOSE_BAKING_SODA, .held = true},
        {.at_d = 20.503, .mass_g = 184, .dose = TL_DOSE_SALT}};
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.dosing.hold_alkalinity_eq_m3 = 2;
    b.run.dose = given;
    b.run.doses = 2;
    for (int i = 0; i < 2; i++)
        add_event(&b.s.setup, (struct tl_event){.at_d = 20.5 + i,
                                                .kind = TL_EVENT_DOSE,
                                                .dose = TL_DOSE_SALT,
                                                .by = TL_DOSE_TO_RATIO,
                                                .value = 25});
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DOSE), 3);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_DOSE, 0), TL_METRIC).what,
                        "300 g of baking soda");
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_DOSE, 1), TL_METRIC).what,
                        "184 g of salt, until chloride is 25 times nitrite");
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_DOSE, 2), TL_METRIC).why,
                        "as the scenario plans; the run needed none");
    end(&b);
}

/* --- what the days show --------------------------------------------------------------------- */

/* 2 % a day is half after 25 d, and again. A chamber that fills ever more slowly is emptied as often all
 * the same: what rots in a full one is not there in an emptied one. */
static void filling(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < DAYS; i++) {
        b.day[i].chamber_filled = 0.02 * i;
        b.voids_filled[TRAYS * i + 1] = 0.3 * (1 - exp(-i / 10.0));
    }
    make(&b);
    assert_int_equal(count(&b, TL_JOB_EMPTY_CHAMBER), 3);
    near(job(&b, TL_JOB_EMPTY_CHAMBER, 0)->t_d, 25, 0);
    near(job(&b, TL_JOB_EMPTY_CHAMBER, 0)->figure, 0.5, 1e-12);
    near(job(&b, TL_JOB_EMPTY_CHAMBER, 1)->t_d, 50, 0);
    near(job(&b, TL_JOB_RINSE_TRAY, 0)->t_d, 18, 0); /* 0.3 (1 - e^-1.8) = 0.2504 */
    near(job(&b, TL_JOB_RINSE_TRAY, 1)->t_d, 36, 0);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_RINSE_TRAY, 1), TL_METRIC).what,
                        "rinse tray 2 in pond water");

    /* the scenario empties it on day 20, just in time */
    for (int i = 20; i < DAYS; i++)
        b.day[i].chamber_filled = 0.02 * (i - 20);
    make(&b);
    near(job(&b, TL_JOB_EMPTY_CHAMBER, 0)->t_d, 45, 0);
    end(&b);
}

/* Each tray has its own days, the slow ones too; a plan that rinses one leaves the others due. */
static void trays_one_by_one(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < DAYS; i++)
        for (int tray = 0; tray < TRAYS; tray++)
            b.voids_filled[TRAYS * i + tray] = i / (tray == 0 ? 80.0 : 160.0);
    make(&b);
    /* a quarter is full every 20 days, of the other two every 40 */
    assert_int_equal(count(&b, TL_JOB_RINSE_TRAY), 4 + 2 + 2);
    for (int tray = 1; tray <= TRAYS; tray++) {
        near(job(&b, TL_JOB_RINSE_TRAY, (size_t)tray)->t_d, 40, 0);
        assert_int_equal(job(&b, TL_JOB_RINSE_TRAY, (size_t)tray)->tray, tray);
    }
    add_event(&b.s.setup, (struct tl_event){.at_d = 40.5, .kind = TL_EVENT_CLEAN_TRAY, .tray = 2});
    make(&b);
    assert_int_equal(count(&b, TL_JOB_RINSE_TRAY), 8);
    add_event(&b.s.setup, (struct tl_event){.at_d = 80.5, .kind = TL_EVENT_CLEAN_TRAYS});
    make(&b);
    assert_int_equal(count(&b, TL_JOB_RINSE_TRAY), 8 - 3 + 1);
    /* what a job of the scenario tells is of its own tray */
    near(job(&b, TL_JOB_RINSE_TRAY, 3)->figure, 40 / 160.0, 1e-12);
    end(&b);
}

/* Planned for every 10 days, so that it is never half full. */
static void emptied_by_plan(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.emptying = (struct tl_emptying){.every_d = 10, .at_s = 9 * 3600};
    for (int i = 0; i < DAYS; i++)
        b.day[i].chamber_filled = 0.02 * (1 + (i + 9) % 10);
    make(&b);
    assert_int_equal(count(&b, TL_JOB_EMPTY_CHAMBER), 9);
    near(job(&b, TL_JOB_EMPTY_CHAMBER, 8)->t_d, 90.375, 1e-12);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_EMPTY_CHAMBER, 8), TL_METRIC).why,
                        "as the scenario plans; 20 % of it is sludge by then");
    end(&b);
}

/* 0.05 eq/m3 a day from 3: below 1.4 on day 33. The dose adds 0.6, for 12 days. */
static void soda(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < DAYS; i++)
        b.day[i].alk_least_eq_m3 = 3 - 0.05 * i;
    make(&b);
    const struct tl_job *first = job(&b, TL_JOB_DOSE, 0);
    near(first->t_d, 32, 0); /* the eve */
    near(first->amount, 0.6 * 84.007 * 12.8, 1e-9);
    near(first->figure, 1.35, 1e-12);
    near(job(&b, TL_JOB_DOSE, 1)->t_d, 44, 0);
    assert_string_equal(tl_job_words(&b.s, first, TL_US).why,
                        "without it the alkalinity is 67.5 mg/L as CaCO3 the next day, the floor "
                        "is 70.1; test first");
    /* half of the water is changed on day 40, and with it half of the dose */
    add_event(&b.s.setup,
              (struct tl_event){.at_d = 40, .kind = TL_EVENT_WATER_CHANGE, .value = 0.5});
    make(&b);
    near(job(&b, TL_JOB_DOSE, 1)->t_d, 39, 0);
    /* a plan that holds it, and no floor */
    b.s.setup.dosing.hold_alkalinity_eq_m3 = 2;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DOSE), 0);
    b.s.setup.dosing.hold_alkalinity_eq_m3 = 0;
    b.s.limits.alk.caution = NAN;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DOSE), 0);
    end(&b);
}

/* Salt on the day that soda is due is no soda. Soda of the scenario on that day is: the run has its effect,
 * and what the water lacks for all that is asked for a day later. */
static void soda_beside_a_dose(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < DAYS; i++)
        b.day[i].alk_least_eq_m3 = 3 - 0.05 * i;
    add_event(
        &b.s.setup,
        (struct tl_event){.at_d = 32.5, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = 500});
    make(&b);
    assert_null(job(&b, TL_JOB_DOSE, 0)->event);
    near(job(&b, TL_JOB_DOSE, 0)->t_d, 32, 0);
    near(job(&b, TL_JOB_DOSE, 2)->t_d, 44, 0);
    b.s.setup.event[0].dose = TL_DOSE_BAKING_SODA;
    make(&b);
    near(job(&b, TL_JOB_DOSE, 0)->t_d, 32.5, 0);
    near(job(&b, TL_JOB_DOSE, 1)->t_d, 33, 0);
    near(job(&b, TL_JOB_DOSE, 1)->figure, 1.3, 1e-12);
    end(&b);
}

/* Fish in water of 20 degC and pH 7.6 with 1.2 mg/L of ammonia on each day, judged by its un-ionised part. */
static void begin_with_ammonia(struct bench *b)
{
    begin(b);
    b->s.limits.nh3 = (struct tl_limit_pair){0.02, 0.05};
    b->s.limits.tan_caution = NAN;
    for (int i = 0; i < DAYS; i++) {
        b->day[i].water_most_degC = 20;
        b->day[i].ph_most = 7.6;
        b->day[i].tan_most_gN_m3 = 1.2;
        b->day[i].fish_kg = 20;
    }
}

/* Soda makes ammonia more poisonous. At 20 degC and pH 7.6 the un-ionised share is 1.56 % (Emerson et al.
 * 1975). A dose of 0.6 eq/m3 on 1.35 takes the pH to 7.76, the share to 2.23 % and so the total ammonia whose
 * un-ionised part is beyond caution, 0.02 mg/L, to 0.899; half of it to 1.058, a quarter to 1.16. While there
 * is more no dose is asked for, and it is said why, once; the card goes by the same. */
static void soda_waits_for_ammonia(void **state)
{
    struct bench b;
    (void)state;
    begin_with_ammonia(&b);
    for (int i = 0; i < DAYS; i++) {
        b.day[i].alk_least_eq_m3 = fmax(3 - 0.05 * i, 1.35);
        b.day[i].ph_most = 7.6 + log10(b.day[i].alk_least_eq_m3 / 1.35);
        b.day[i].tan_most_gN_m3 = i < 40 ? 1.2 : 0.88;
    }
    near(tl_soda_most_tan_gN_m3(&b.s.limits, 20, 7.6 + log10(1.95 / 1.35)), 0.899, 0.0005);
    make(&b);
    const struct tl_job *first = job(&b, TL_JOB_DOSE, 0);
    assert_true(first->held_back && isnan(first->amount));
    near(first->t_d, 32, 0);
    assert_string_equal(tl_job_words(&b.s, first, TL_METRIC).what,
                        "no baking soda yet: first bring the ammonia down");
    const struct tl_job *dose = job(&b, TL_JOB_DOSE, 1);
    near(dose->t_d, 40, 0); /* the first day of which the eve, too, is good */
    near(dose->amount, 0.6 * 84.007 * 12.8, 1e-9);
    assert_false(dose->held_back);
    assert_non_null(strstr(tl_job_words(&b.s, dose, TL_METRIC).why,
                           "test first: not while ammonia is over 0.89 mg/L as N"));
    /* the dose is in the water still, so that only half a second one is right on top of it */
    for (int i = 44; i < DAYS; i++) {
        b.day[i].alk_least_eq_m3 = 0.75;
        b.day[i].ph_most = 7.6 + log10(0.75 / 1.35);
        b.day[i].tan_most_gN_m3 = 0.95;
    }
    make(&b);
    assert_int_equal(count(&b, TL_JOB_DOSE), 4);
    assert_true(job(&b, TL_JOB_DOSE, 2)->held_back); /* on the eve the alkalinity is high yet */
    near(job(&b, TL_JOB_DOSE, 3)->t_d, 44, 0);
    near(job(&b, TL_JOB_DOSE, 3)->amount, 0.3 * 84.007 * 12.8, 1e-9);
    /* a start-up without fish wants its alkalinity, whatever the ammonia */
    for (int i = 0; i < DAYS; i++)
        b.day[i].fish_kg = 0;
    make(&b);
    assert_false(job(&b, TL_JOB_DOSE, 0)->held_back);
    assert_null(strstr(tl_job_words(&b.s, job(&b, TL_JOB_DOSE, 0), TL_METRIC).why, "ammonia"));
    end(&b);
}

/* The alkalinity is low from the start: what is right on day 0 and is not on day 1, whose eve is day 0 as well,
 * is not asked for and forbidden on one day; it is forbidden on the next. */
static void soda_of_the_first_day(void **state)
{
    struct bench b;
    (void)state;
    begin_with_ammonia(&b);
    for (int i = 0; i < DAYS; i++)
        b.day[i].alk_least_eq_m3 = 0.7;
    b.day[0].tan_most_gN_m3 = 0.1;
    make(&b);
    assert_false(job(&b, TL_JOB_DOSE, 0)->held_back);
    near(job(&b, TL_JOB_DOSE, 0)->t_d, 0, 0);
    assert_true(job(&b, TL_JOB_DOSE, 1)->held_back);
    near(job(&b, TL_JOB_DOSE, 1)->t_d, 1, 0);
    end(&b);
}

/* The stricter of what is set; danger where no caution is; the criterion where nothing is set. */
static void soda_goes_by_the_stricter_limit(void **state)
{
    struct tl_limits l = {.nh3 = {0.02, 0.05}, .tan_caution = 0.5, .tan_danger = 3};
    (void)state;
    near(tl_soda_most_tan_gN_m3(&l, 20, 7.76), 0.5, 0);
    l.tan_caution = NAN;
    l.nh3 = (struct tl_limit_pair){NAN, NAN};
    near_rel(tl_soda_most_tan_gN_m3(&l, 20, 7.76), tl_epa_ammonia_chronic(20, 7.76, false), 1e-12);
    l.tan_caution = 100;
    l.nh3.danger = 0.05;
    near(tl_soda_most_tan_gN_m3(&l, 20, 7.76), 0.05 / 0.0223, 0.02);
    l.nh3.danger = l.tan_caution = NAN;
    assert_true(isfinite(tl_soda_most_tan_gN_m3(&l, 20, 7.76))); /* the criterion stays */
}

/* 0.5 % a day: 80 % is left after 40 d, counted from the last time it was cleaned. */
static void pump(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.pump.fouling_1_d = 0.005;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_CLEAN_PUMP), 2);
    near(job(&b, TL_JOB_CLEAN_PUMP, 1)->t_d, 80, 0);
    add_event(&b.s.setup, (struct tl_event){.at_d = 30, .kind = TL_EVENT_CLEAN_PUMP});
    make(&b);
    assert_int_equal(count(&b, TL_JOB_CLEAN_PUMP), 2);
    near(job(&b, TL_JOB_CLEAN_PUMP, 1)->t_d, 70, 0);
    assert_int_equal(job(&b, TL_JOB_CLEAN_PUMP, 1)->from, TL_JOB_FROM_RUN);
    end(&b);
}

/* Told on the eve, once a spell, with the coldest of it. */
static void cold(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.heater = (struct tl_heater){.power_w = 500, .keep_degC = 8};
    b.day[20].air_least_degC = -1;
    b.day[25].air_least_degC = -6;
    b.day[60].air_least_degC = -2;
    b.day[70].water_least_degC = 8.5;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_FROST), 2);
    near(job(&b, TL_JOB_FROST, 0)->t_d, 19, 0);
    near(job(&b, TL_JOB_FROST, 0)->figure, -6, 0);
    near(job(&b, TL_JOB_FROST, 1)->t_d, 59, 0);
    assert_int_equal(count(&b, TL_JOB_HEATER), 1);
    near(job(&b, TL_JOB_HEATER, 0)->t_d, 69, 0);
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_HEATER, 0), TL_US).what,
                        "check that the heater works");
    assert_non_null(strstr(tl_job_words(&b.s, job(&b, TL_JOB_HEATER, 0), TL_US).why, "47.3 degF"));
    /* one that lets the water go is not to be looked at, but to be helped */
    b.day[72].water_least_degC = 2;
    make(&b);
    assert_non_null(strstr(tl_job_words(&b.s, job(&b, TL_JOB_HEATER, 0), TL_US).what,
                           "a stronger heater, or a spare one"));
    end(&b);
}

/* The first time with the coldest of all of it, then every four weeks with what is still to come. */
static void long_cold(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 10; i < 70; i++)
        b.day[i].air_least_degC = i == 40 ? -9 : -1;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_FROST), 3);
    near(job(&b, TL_JOB_FROST, 0)->t_d, 9, 0);
    near(job(&b, TL_JOB_FROST, 0)->figure, -9, 0);
    near(job(&b, TL_JOB_FROST, 1)->t_d, 37, 0);
    near(job(&b, TL_JOB_FROST, 1)->figure, -9, 0);
    near(job(&b, TL_JOB_FROST, 2)->t_d, 65, 0);
    near(job(&b, TL_JOB_FROST, 2)->figure, -1, 0);
    end(&b);
}

/* A day or two without a meal are no winter. */
static void feeding(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.feeding.none_below_degC = 8;
    b.day[10].fed_g = b.day[11].fed_g = 0;
    for (int i = 40; i < 70; i++)
        b.day[i].fed_g = i == 50 || i == 51 ? 100 : 0;
    make(&b);
    assert_int_equal(count(&b, TL_JOB_STOP_FEEDING), 1);
    assert_int_equal(count(&b, TL_JOB_FEED_AGAIN), 1);
    near(job(&b, TL_JOB_STOP_FEEDING, 0)->t_d, 40, 0);
    near(job(&b, TL_JOB_FEED_AGAIN, 0)->t_d, 70, 0);
    /* a crumb in the warmest hour is no feeding; told is what that hour comes to, and to test daily */
    for (int i = 65; i < 80; i++)
        b.day[i].fed_g = 3.9;
    b.day[80].water_least_degC = 6;
    b.day[80].water_most_degC = 8.3;
    make(&b);
    near(job(&b, TL_JOB_FEED_AGAIN, 0)->t_d, 80, 0);
    assert_non_null(strstr(tl_job_words(&b.s, job(&b, TL_JOB_FEED_AGAIN, 0), TL_METRIC).why,
                           "comes up to 8.3 degC on that day"));
    size_t daily = 0;
    for (size_t i = 0; i < b.jobs.n; i++)
        daily += b.jobs.job[i].kind == TL_JOB_TEST && b.jobs.job[i].figure > 0;
    assert_int_equal(daily, 8);
    b.s.setup.feeding.none_below_degC = 0; /* then it is not the temperature */
    make(&b);
    assert_int_equal(count(&b, TL_JOB_STOP_FEEDING), 0);
    end(&b);
}

static void algae(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < DAYS; i++)
        b.day[i].top_cover = fmin(0.02 * (i < 60 ? i : i - 60), 0.9);
    make(&b);
    assert_int_equal(count(&b, TL_JOB_HOSE_TRAY), 2); /* hosed by the scenario on day 60 */
    near(job(&b, TL_JOB_HOSE_TRAY, 0)->t_d, 25, 0);
    near(job(&b, TL_JOB_HOSE_TRAY, 1)->t_d, 85, 0);
    end(&b);
}

/* Common practice, no source: daily until a new filter is ready and for a week after new fish. */
static void tests_of_water(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.tower.biofilm = TL_BIOFILM_NEW;
    add_event(&b.s.setup,
              (struct tl_event){.at_d = 50.25, .kind = TL_EVENT_ADD_FISH, .fish = {.name = "koi"}});
    assert_int_equal(tl_jobs_make(&b.s, NULL, 30, DAYS, &b.jobs), TL_OK);
    near(job(&b, TL_JOB_TEST, 30)->t_d, 30, 0);
    near(job(&b, TL_JOB_TEST, 31)->t_d, 37, 0);
    near(job(&b, TL_JOB_TEST, 32)->t_d, 44, 0);
    for (size_t i = 0; i < 8; i++)
        near(job(&b, TL_JOB_TEST, 33 + i)->t_d, 50 + (double)i, 0);
    near(job(&b, TL_JOB_TEST, 41)->t_d, 64, 0);
    end(&b);
}

static size_t tests_for(const struct bench *b, enum tl_test_why why, double from_d, double to_d)
{
    size_t n = 0;
    for (size_t i = 0; i < b->jobs.n; i++)
        n += b->jobs.job[i].kind == TL_JOB_TEST && b->jobs.job[i].figure == (double)why &&
             b->jobs.job[i].t_d >= from_d && b->jobs.job[i].t_d <= to_d;
    return n;
}

/* Common practice, no source: daily, too, after what hurts a filter. In the log as well: no run is
 * needed. */
static void tests_after_a_mishap(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    add_event(&b.s.setup,
              (struct tl_event){
                  .at_d = 5.4, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_CHLORAMINE_T, .value = 20});
    add_event(&b.s.setup, (struct tl_event){.at_d = 40.1, .for_d = 10, .kind = TL_EVENT_DEAD_FISH});
    add_event(&b.s.setup, (struct tl_event){.at_d = 70.3, .for_d = 1, .kind = TL_EVENT_PUMP_FLOW});
    add_event(&b.s.setup,
              (struct tl_event){.at_d = 85, .for_d = 1.0 / 24, .kind = TL_EVENT_PUMP_FLOW});
    add_event(&b.s.setup,
              (struct tl_event){.at_d = 86, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_BAKING_SODA});
    assert_int_equal(tl_jobs_make(&b.s, NULL, NAN, DAYS, &b.jobs), TL_OK);
    assert_int_equal(tests_for(&b, TL_TEST_MEDICINE, 5, 33), 29);
    assert_int_equal(tests_for(&b, TL_TEST_DEAD_FISH, 40, 57), 18);
    assert_int_equal(tests_for(&b, TL_TEST_STOOD, 70, 78), 9);
    /* neither a short stop nor baking soda asks for any */
    assert_int_equal(count(&b, TL_JOB_TEST), 29 + 18 + 9 + tests_for(&b, TL_TEST_WEEKLY, 0, DAYS));
    assert_string_equal(tl_job_words(&b.s, job(&b, TL_JOB_TEST, 1), TL_METRIC).why,
                        "every day for four weeks after film was killed, or may have been; "
                        "common practice");
    end(&b);
}

/* Daily while fish are beyond danger in the run, and a week after: of ammonia, nitrite or want of alkalinity. */
static void tests_in_danger(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.limits.nh3.danger = 0.05;
    b.s.limits.no2.danger = 0.5;
    b.s.limits.alk.danger = 0.8;
    for (int i = 0; i < DAYS; i++) {
        b.day[i].nh3_most_gN_m3 = i == 10 ? 0.051 : 0.05;
        b.day[i].no2_most_gN_m3 = i == 30 || i == 31 ? 0.51 : 0.5;
        b.day[i].alk_least_eq_m3 = i == 50 ? 0.79 : 0.8;
    }
    assert_int_equal(tl_jobs_make(&b.s, &b.run, NAN, DAYS, &b.jobs), TL_OK);
    assert_int_equal(tests_for(&b, TL_TEST_DANGER, 10, 17), 8);
    assert_int_equal(tests_for(&b, TL_TEST_DANGER, 30, 38), 9);
    assert_int_equal(tests_for(&b, TL_TEST_DANGER, 50, 57), 8);
    assert_int_equal(tests_for(&b, TL_TEST_DANGER, 0, DAYS), 8 + 9 + 8);
    tl_jobs_free(&b.jobs);
    for (int i = 0; i < DAYS; i++)
        b.day[i].fish_kg = 0;
    assert_int_equal(tl_jobs_make(&b.s, &b.run, NAN, DAYS, &b.jobs), TL_OK);
    assert_int_equal(tests_for(&b, TL_TEST_DANGER, 0, DAYS), 0);
    end(&b);
}

/* Ready on day 30, but poison is in the water until day 40, and once more within a week: daily until a week
 * begins that is free of it. */
static void tests_while_poison_is_left(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    b.s.setup.tower.biofilm = TL_BIOFILM_NEW;
    b.s.limits.nh3.caution = 0.02;
    b.s.limits.no2.caution = 0.2;
    for (int i = 0; i < DAYS; i++)
        b.day[i].nh3_most_gN_m3 = i < 40 || i == 45 ? 0.021 : 0.02;
    assert_int_equal(tl_jobs_make(&b.s, &b.run, 30, DAYS, &b.jobs), TL_OK);
    assert_true(b.jobs.after.nh3 && !b.jobs.after.no2);
    near(b.jobs.after.within_d, 46, 0);
    assert_int_equal(tests_for(&b, TL_TEST_NEW_FILTER, 0, 46), 47);
    assert_int_equal(tests_for(&b, TL_TEST_NEW_FILTER, 47, DAYS), 0);
    /* nitrite to the end */
    for (int i = 0; i < DAYS; i++)
        b.day[i].no2_most_gN_m3 = i % 7 ? 0.1 : 0.3;
    tl_jobs_free(&b.jobs);
    assert_int_equal(tl_jobs_make(&b.s, &b.run, 30, DAYS, &b.jobs), TL_OK);
    assert_true(b.jobs.after.nh3 && b.jobs.after.no2 && isnan(b.jobs.after.within_d));
    assert_int_equal(tests_for(&b, TL_TEST_NEW_FILTER, 0, DAYS), DAYS);
    /* a filter that is never ready, in poison from the first day on */
    tl_jobs_free(&b.jobs);
    assert_int_equal(tl_jobs_make(&b.s, &b.run, NAN, DAYS, &b.jobs), TL_OK);
    assert_true(isnan(b.jobs.after.within_d));
    assert_int_equal(tests_for(&b, TL_TEST_NEW_FILTER, 0, DAYS), DAYS);
    /* without fish it is no poison */
    for (int i = 0; i < DAYS; i++)
        b.day[i].fish_kg = 0;
    tl_jobs_free(&b.jobs);
    assert_int_equal(tl_jobs_make(&b.s, &b.run, 30, DAYS, &b.jobs), TL_OK);
    assert_false(b.jobs.after.nh3 || b.jobs.after.no2);
    near(b.jobs.after.within_d, 30, 0);
    end(&b);
}

/* --- a run that is watched ------------------------------------------------------------------ */

struct watch {
    struct tl_upkeep upkeep;
    struct tl_work *work;
    struct run *run;
    struct tl_snapshot glance, row;
    double voids, sludge_gCOD;
};

static int watch(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct watch *w = arg;
    const struct run *r = w->run;
    int status = tl_model_glance(r->model, w->work, c, t_d, y, &w->glance);
    if (status == TL_OK)
        status = tl_upkeep_see(&w->upkeep, r->model, &w->glance, y, tl_engine_state(r->engine));
    if (status == TL_OK && t_d == floor(t_d)) {
        status = tl_model_snapshot(r->model, w->work, c, t_d, y, &w->row);
        w->voids = 0;
        for (int i = 0; i < w->row.trays; i++)
            w->voids = fmax(w->voids, w->row.tray_voids_filled[i]);
        w->sludge_gCOD = w->row.sludge_gCOD;
        const struct tl_upkeep_day *d = &w->upkeep.day[(size_t)t_d];
        near_rel(tl_upkeep_voids_filled(&w->upkeep, (size_t)t_d, 0), w->voids, 1e-12);
        near_rel(d->chamber_filled, w->sludge_gCOD / 30000 / 0.8, 1e-12);
        for (int i = 0; i < w->row.trays; i++)
            near_rel(tl_upkeep_voids_filled(&w->upkeep, (size_t)t_d, i + 1),
                     w->row.tray_voids_filled[i], 1e-12);
    }
    return status;
}

/* What is kept of each day is what a row of output has, and what the totals say. */
static void watched_run(void **state)
{
    struct tl_setup s;
    struct watch w = {.voids = 0};
    struct run r;
    (void)state;
    reference_loop(&s, 30);
    s.length_d = 12;
    s.dosing = (struct tl_dosing){
        .hold_alkalinity_eq_m3 = 4.4, .every_d = 1, .at_s = 9 * 3600 + 100, .at_most_g = INFINITY};
    s.params.film_density = 30000;
    add_event(&s, (struct tl_event){
                      .at_d = 5.5, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = 70});
    const struct tl_observer o = {.period_d = 1.0 / 288, .see = watch, .arg = &w};
    r = start_run(&s, 0, &o, 1);
    w.run = &r;
    assert_int_equal(tl_upkeep_begin(&w.upkeep, r.model), TL_OK);
    assert_int_equal(tl_work_new(r.model, &w.work), TL_OK);
    assert_int_equal(tl_snapshot_alloc(r.model, &w.row), TL_OK);
    assert_int_equal(tl_engine_advance(r.engine, INFINITY), TL_OK);
    near(w.upkeep.day[3].fed_g, 300, 1e-6); /* 1 % of 30 kg */
    assert_int_equal(w.upkeep.day[3].samples, 288);

    struct tl_doses doses;
    double held_g = 0;
    size_t looks = 0;
    tl_model_doses(r.model, r.y, &doses);
    for (size_t i = 0; i < w.upkeep.doses; i++) {
        const struct tl_upkeep_dose *d = &w.upkeep.dose[i];
        if (d->held) {
            near(d->at_d - floor(d->at_d), (9 * 3600 + 100) / 86400.0, 1e-9);
            held_g += d->mass_g;
            looks++;
        } else {
            assert_int_equal(d->dose, TL_DOSE_SALT);
            near(d->mass_g, 70, 1e-9);
            near(d->at_d, 5.5, 0.004);
        }
    }
    assert_true(looks > 3);
    near((double)looks, doses.held_times, 0);
    near_rel(held_g, doses.held_g, 1e-9);
    tl_snapshot_free(&w.row);
    tl_work_free(w.work);
    tl_upkeep_free(&w.upkeep);
    end_run(&r);
    free_loop(&s);
}

/* --- files ---------------------------------------------------------------------------------- */

static char *written(const struct bench *b,
                     bool (*write)(const struct tl_jobs *j, const struct tl_scenario *s, FILE *f))
{
    char *text = NULL;
    size_t size;
    FILE *f = open_memstream(&text, &size);
    assert_non_null(f);
    assert_true(write(&b->jobs, &b->s, f));
    fclose(f);
    return text;
}

static void csv(void **state)
{
    struct bench b;
    (void)state;
    begin(&b);
    add_event(&b.s.setup,
              (struct tl_event){.at_d = 3.375,
                                .kind = TL_EVENT_ADD_FISH,
                                .fish = {.name = "\"big\", old", .count = 2, .mean_mass_g = 5000}});
    b.s.setup.change_every_d = 60;
    b.s.setup.change_amount = 0.15;
    b.jobs = (struct tl_jobs){0};
    assert_int_equal(tl_jobs_make(&b.s, NULL, NAN, 5, &b.jobs), TL_OK);
    char *text = written(&b, tl_jobs_write_csv);
    assert_string_equal(
        text, "time_iso,time_d,job,from,amount,unit,what,why\n"
              "2027-05-01,0,test water,practice,,,\"test the water: ammonia, nitrite, pH, nitrate, "
              "alkalinity\",\"once a week; common practice\"\n"
              "2027-05-04,3,test water,practice,,,\"test the water: ammonia, nitrite, pH\",\"every "
              "day for a week after fish have come; common practice\"\n"
              "2027-05-04T09:00:00,3.375,fish arrive,scenario,2,,\"2 \"\"big\"\", old "
              "arrive\",\"as the scenario plans; 10 kg in all\"\n"
              "2027-05-05,4,test water,practice,,,\"test the water: ammonia, nitrite, pH\",\"every "
              "day for a week after fish have come; common practice\"\n");
    free(text);
    end(&b);
}

/* Takes the folding of RFC 5545, section 3.1, back out: a CRLF and one blank go. Every line has at most 75
 * octets, ends in CRLF and is UTF-8 by itself. */
static char *unfolded(const char *text)
{
    char *out = malloc(strlen(text) + 1);
    size_t n = 0;
    assert_non_null(out);
    while (*text) {
        const char *end_of = strstr(text, "\r\n");
        assert_non_null(end_of);
        const size_t length = (size_t)(end_of - text);
        assert_true(length <= 75);
        assert_int_equal(tl_utf8_fault(text, length), length);
        assert_null(memchr(text, '\n', length));
        if (*text == ' ') {
            assert_true(n > 0);
            n--; /* the line feed put in below */
        }
        memcpy(out + n, text + (*text == ' '), length - (*text == ' '));
        n += length - (*text == ' ');
        out[n++] = '\n';
        text = end_of + 2;
    }
    out[n] = '\0';
    return out;
}

/* The TEXT behind the n-th "NAME:", its escapes (section 3.3.11) taken out. */
static void text_of(const char *ics, const char *name, size_t n, char *out)
{
    char begin_of[32];
    tl_format(begin_of, sizeof begin_of, "\n%s:", name);
    for (size_t i = 0; i <= n; i++) {
        ics = strstr(ics, begin_of);
        assert_non_null(ics);
        ics += strlen(begin_of);
    }
    for (; *ics != '\n'; ics++) {
        assert_true(*ics != ';' && *ics != ','); /* bare ones are not allowed */
        if (*ics == '\\') {
            ics++;
            assert_true(strchr("\\;,nN", *ics) && *ics);
        }
        *out++ = *ics == 'n' && ics[-1] == '\\' ? '\n' : *ics;
    }
    *out = '\0';
}

static size_t times(const char *text, const char *part)
{
    size_t n = 0;
    for (; (text = strstr(text, part)); text += strlen(part))
        n++;
    return n;
}

static void ics(void **state)
{
    /* 24 characters of three bytes, and what has to be escaped */
#define KOI "\xe9\x8c\xa6\xe9\xaf\x89"
    static const char name[] =
        KOI KOI KOI KOI KOI KOI KOI KOI KOI KOI KOI KOI "; a\\b, c: \xc3\xa4\xc3\xb6\xc3\xbc more";
    struct bench b;
    char text[1024], expected[1024];
    (void)state;
    begin(&b);
    struct tl_event e = {.at_d = 3.375, .kind = TL_EVENT_ADD_FISH};
    strcpy(e.fish.name, name);
    e.fish.count = 2;
    e.fish.mean_mass_g = 5000;
    add_event(&b.s.setup, e);
    add_event(&b.s.setup, (struct tl_event){.at_d = 4, .kind = TL_EVENT_CLEAN_PUMP});
    assert_int_equal(tl_jobs_make(&b.s, NULL, NAN, 6, &b.jobs), TL_OK);
    char *file = written(&b, tl_jobs_write_ics);
    char *again = written(&b, tl_jobs_write_ics);
    assert_string_equal(file, again);
    char *plain = unfolded(file);
    assert_int_equal(strncmp(plain, "BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:", 35), 0);
    assert_string_equal(plain + strlen(plain) - 15, "\nEND:VCALENDAR\n");
    assert_int_equal(times(plain, "\nBEGIN:VEVENT\n"), b.jobs.n);
    assert_int_equal(times(plain, "\nEND:VEVENT\n"), b.jobs.n);
    /* required of each event: sections 3.6.1 and 3.8.7.2 */
    assert_int_equal(times(plain, "\nUID:"), b.jobs.n);
    assert_int_equal(times(plain, "\nDTSTAMP:20270501T000000Z\n"), b.jobs.n);
    for (size_t i = 0; i < b.jobs.n; i++) {
        const struct tl_job_words w = tl_job_words(&b.s, &b.jobs.job[i], TL_METRIC);
        text_of(plain, "SUMMARY", i, text);
        assert_string_equal(text + 1, w.what + 1);
        text_of(plain, "DESCRIPTION", i, text);
        tl_format(expected, sizeof expected, "Why: %s.", w.why);
        assert_int_equal(strncmp(text, expected, strlen(expected)), 0);
    }
    assert_int_equal(times(plain, "unplug first"), 1);
    /* local time without a zone (form 1 of 3.3.5), and a whole day */
    assert_non_null(strstr(plain, "\nDTSTART:20270504T090000\nDURATION:PT15M\n"));
    assert_non_null(strstr(plain, "\nDTSTART;VALUE=DATE:20270505\n"));
    /* no two are called the same */
    for (size_t i = 0; i < b.jobs.n; i++)
        for (size_t k = 0; k < i; k++) {
            text_of(plain, "UID", i, text);
            text_of(plain, "UID", k, expected);
            assert_string_not_equal(text, expected);
        }
    free(plain);
    free(again);
    free(file);
    end(&b);
}

/* --- the blank log -------------------------------------------------------------------------- */

static void sheet(void **state)
{
    struct bench b;
    struct tl_text text = {0};
    (void)state;
    begin(&b);
    b.s.setup.tower.biofilm = TL_BIOFILM_NEW;
    for (int i = 0; i < 12; i++)
        add_event(&b.s.setup,
                  (struct tl_event){.at_d = 14.5, .kind = TL_EVENT_CLEAN_TRAY, .tray = i + 1});
    assert_int_equal(tl_log_sheet_text(&b.s, TL_US, &text), TL_OK);
    assert_int_equal(times(text.data, "Page "), 8); /* 100 days, 14 to a page */
    assert_int_equal(times(text.data, "\f"), 7);
    assert_int_equal(times(text.data, " d13 "), 1);
    assert_int_equal(times(text.data, "[ ] 05-15 d14 rinse tray"), 10);
    assert_int_equal(times(text.data, "and 2 more"), 1);
    assert_int_equal(times(text.data, "degF"), 8);
    int lines = 0;
    for (const char *s = text.data; *s; s += strcspn(s, "\n") + 1) {
        if (*s == '\f') {
            assert_true(lines <= TL_SHEET_LINES);
            lines = 0;
            s++;
        }
        assert_true(strcspn(s, "\n") <= 80);
        lines++;
    }
    tl_text_free(&text);
    end(&b);
}

/* The template, its values taken from a run and rounded as a kit shows them, is a log. */
static void log_filled_from_a_run(void **state)
{
    struct bench b;
    struct tl_text blank = {0}, filled = {0};
    struct tl_measured_log log;
    struct tl_diag diag;
    (void)state;
    begin(&b);
    b.s.setup.length_d = 15;
    tl_diag_init(&diag);
    assert_int_equal(tl_log_sheet_csv(&b.s, TL_METRIC, &blank), TL_OK);
    assert_int_equal(
        tl_measured_read_text("log", blank.data, blank.length, &b.s.start, &log, &diag),
        TL_E_INPUT);
    assert_non_null(strstr(diag.message[0].what, "no reading is filled in"));
    assert_int_equal(diag.count, 1);

    struct run r = start_run(&b.s.setup, 0, NULL, 0);
    double tan[3];
    size_t readings = 0;
    for (char *line = blank.data, *next; *line; line = next) {
        next = line + strcspn(line, "\n") + 1;
        char *value = strstr(line, ",,");
        int day;
        if (!value || value >= next || sscanf(line, "2027-05-%dT08", &day) != 1) {
            tl_text_add_bytes(&filled, line, (size_t)(next - line));
            continue;
        }
        assert_int_equal(tl_engine_advance(r.engine, day - 1 + 8.0 / 24), TL_OK);
        const bool ammonia = strncmp(line + 25, "total ammonia", 13) == 0;
        if (ammonia)
            tan[readings / 7] = r.y[r.at->tank + TL_TAN];
        tl_text_add_bytes(&filled, line, (size_t)(value + 1 - line));
        tl_text_addf(&filled, "%.3g",
                     ammonia                                      ? r.y[r.at->tank + TL_TAN]
                     : strncmp(line + 25, "pH", 2) == 0           ? 7.5
                     : strncmp(line + 25, "temperature", 11) == 0 ? 24
                                                                  : 1.5);
        tl_text_add_bytes(&filled, value + 1, (size_t)(next - value - 1));
        readings++;
    }
    assert_int_equal(readings, 21); /* seven each on days 0, 7 and 14 */
    assert_int_equal(
        tl_measured_read_text("log", filled.data, filled.length, &b.s.start, &log, &diag), TL_OK);
    assert_int_equal(log.rows, 21);
    size_t seen = 0;
    for (size_t i = 0; i < log.rows; i++) {
        if (log.row[i].quantity != TL_MEASURED_TAN)
            continue;
        near_rel(log.row[i].low, tan[seen], 0.005);
        near(log.row[i].t_d, 7.0 * (double)seen + 8.0 / 24, 1e-9);
        seen++;
    }
    assert_int_equal(seen, 3);
    end_run(&r);
    tl_measured_free(&log);
    tl_diag_free(&diag);
    tl_text_free(&blank);
    tl_text_free(&filled);
    end(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quiet_loop),
        cmocka_unit_test(events),
        cmocka_unit_test(substances),
        cmocka_unit_test(formalin_by_volume),
        cmocka_unit_test(water_changes_with_chlorine),
        cmocka_unit_test(soda_beside_a_dose),
        cmocka_unit_test(soda_waits_for_ammonia),
        cmocka_unit_test(soda_of_the_first_day),
        cmocka_unit_test(soda_goes_by_the_stricter_limit),
        cmocka_unit_test(too_little_dechlorinator),
        cmocka_unit_test(refills_with_chlorine),
        cmocka_unit_test(inflow_with_chlorine),
        cmocka_unit_test(measured_doses),
        cmocka_unit_test(filling),
        cmocka_unit_test(trays_one_by_one),
        cmocka_unit_test(emptied_by_plan),
        cmocka_unit_test(soda),
        cmocka_unit_test(pump),
        cmocka_unit_test(cold),
        cmocka_unit_test(long_cold),
        cmocka_unit_test(feeding),
        cmocka_unit_test(algae),
        cmocka_unit_test(tests_of_water),
        cmocka_unit_test(tests_after_a_mishap),
        cmocka_unit_test(tests_in_danger),
        cmocka_unit_test(tests_while_poison_is_left),
        cmocka_unit_test(watched_run),
        cmocka_unit_test(csv),
        cmocka_unit_test(ics),
        cmocka_unit_test(sheet),
        cmocka_unit_test(log_filled_from_a_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
