/* The answers of a sizing become scenarios that are run over what is uncertain. */
#include "size_uncertain.h"

#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "settings.h"
#include "size_words.h"
#include "spread_drivers.h"
#include "text.h"
#include "towerloop/status.h"

enum { SETTINGS = 2, FOLDER = 24 };

/* One of the scenarios that are run. */
struct tl_size_sure_case {
    char setting[SETTINGS][TL_SIZE_SETTING];
    const char **set; /* those of the user and these */
    char folder[FOLDER];
    struct tl_scenario scenario;
    bool read;
};

int tl_size_uncertain_check(const struct tl_study_task *t, const struct tl_size_view *v)
{
    const struct tl_options *o = &t->options;
    struct tl_paired p = {
        .file = o->word[0], .set = o->set, .sets = o->sets, .scenario = v->scenario};
    if (o->uncertain == 0)
        return TL_OK;
    int status = tl_uncertain_prepare(t, &p, 1);
    if (status == TL_OK)
        status = tl_uncertain_check(p.spread.input, p.spread.inputs, o->word[0], o);
    for (size_t i = 0; i < v->quantities && status == TL_OK; i++)
        status =
            tl_uncertain_clash(p.spread.input, p.spread.inputs,
                               v->quantity[i].most ? "--most" : "--least", v->quantity[i].path);
    tl_paired_free(&p, 1);
    return status;
}

/* --- what is run -------------------------------------------------------------------------------- */

/* One more, with the value of the quantity, and of the first of two before it where `first` is not NULL. */
static int add_case(const struct tl_study_task *t, struct tl_size_view *v, const double *first,
                    double value, const char *folder)
{
    const struct tl_options *o = &t->options;
    struct tl_size_sure *s = &v->sure;
    struct tl_size_sure_case *c = &s->of[s->n];
    struct tl_diag diag;
    size_t settings = 0;
    c->set = calloc(o->sets + SETTINGS, sizeof *c->set);
    if (!c->set)
        return TL_E_MEMORY;
    for (size_t i = 0; i < o->sets; i++)
        c->set[i] = o->set[i];
    if (first)
        tl_size_setting(&v->quantity[0], *first, c->setting[settings++]);
    tl_size_setting(&v->quantity[first != NULL], value, c->setting[settings++]);
    for (size_t i = 0; i < settings; i++)
        c->set[o->sets + i] = c->setting[i];
    (void)tl_format(c->folder, sizeof c->folder, "%s", folder);
    tl_diag_init(&diag);
    const int status =
        tl_settings_read(o->word[0], c->set, o->sets + settings, NULL, 0, &c->scenario, &diag);
    tl_complain_diag(&diag, false);
    tl_diag_free(&diag);
    c->read = status == TL_OK;
    s->p[s->n] = (struct tl_paired){
        .file = o->word[0], .set = c->set, .sets = o->sets + settings, .scenario = &c->scenario};
    s->n++;
    return status;
}

static int add_one(const struct tl_study_task *t, struct tl_size_view *v)
{
    const struct tl_size_result *r = &v->one;
    int status = add_case(t, v, NULL, r->point[r->answer].value, "answer");
    const struct tl_size_point *beside = &r->point[r->neighbour];
    if (status == TL_OK && r->outcome == TL_SIZE_FOUND && beside->trial.end != TL_TRIAL_REFUSED) {
        v->sure.beside = v->sure.n;
        status = add_case(t, v, NULL, beside->value, "beside");
    }
    return status;
}

static int add_front(const struct tl_study_task *t, struct tl_size_view *v)
{
    int status = TL_OK;
    for (size_t i = 0; i < v->front.n && status == TL_OK; i++) {
        const struct tl_size_result *r = &v->front.second[i];
        char folder[FOLDER];
        if (r->outcome == TL_SIZE_NEVER)
            continue;
        (void)tl_format(folder, sizeof folder, "answer-%zu", i + 1);
        v->sure.row[v->sure.n] = i;
        status = add_case(t, v, &v->front.first[i], r->point[r->answer].value, folder);
    }
    return status;
}

int tl_size_uncertain_run(struct tl_study_task *t, struct tl_size_view *v)
{
    struct tl_size_sure *s = &v->sure;
    const char *folder[TL_SIZE_SURE_MOST];
    if (t->options.uncertain == 0 || v->quantities == 0 || !tl_size_found(v))
        return TL_OK;
    s->p = calloc(TL_SIZE_SURE_MOST, sizeof *s->p);
    s->of = calloc(TL_SIZE_SURE_MOST, sizeof *s->of);
    int status = s->p && s->of ? TL_OK : TL_E_MEMORY;
    if (status == TL_OK)
        status = v->quantities == 1 ? add_one(t, v) : add_front(t, v);
    if (status != TL_OK)
        return tl_complain_memory(status);
    status = tl_uncertain_prepare(t, s->p, s->n);
    for (size_t i = 0; i < s->n; i++)
        folder[i] = s->of[i].folder;
    return status == TL_OK ? tl_uncertain_run(t, s->p, s->n, folder) : status;
}

void tl_size_sure_free(struct tl_size_sure *s)
{
    if (s->p)
        tl_paired_free(s->p, s->n);
    for (size_t i = 0; i < s->n; i++) {
        free(s->of[i].set);
        if (s->of[i].read)
            tl_scenario_free(&s->of[i].scenario);
    }
    free(s->p);
    free(s->of);
    *s = (struct tl_size_sure){.n = 0};
}

/* --- in words ----------------------------------------------------------------------------------- */

void tl_size_uncertain_add(struct tl_text *t, const struct tl_paired *p)
{
    char within[TL_CHANCE_SIZE], danger[TL_CHANCE_SIZE];
    tl_chance_text(&p->within, within);
    tl_chance_text(&p->danger, danger);
    tl_text_addf(t, "he water stays within limits in %s and comes into danger in %s.", within,
                 danger);
}

static void add_limit(struct tl_text *t, const struct tl_paired *p, enum tl_grade grade)
{
    const enum tl_limit_id id = tl_paired_weakest(p, grade);
    char text[TL_CHANCE_SIZE];
    if (id == TL_NLIMIT)
        return;
    tl_chance_share_text(&p->limit[id][grade == TL_DANGER], text);
    tl_text_addf(t, " Most often beyond %s: %s, in %s.", tl_grade_text(grade),
                 tl_spread_limit_name(id), text);
}

/* What makes it less than enough. */
static void add_why(struct tl_text *t, const struct tl_paired *p)
{
    char text[TL_CHANCE_SIZE];
    add_limit(t, p, TL_DANGER);
    add_limit(t, p, TL_CAUTION);
    tl_chance_share_text(&p->outside, text);
    if (p->outside.runs > 0)
        tl_text_addf(t, " Outside the published range of an equation, which is caution: in %s.",
                     text);
    if (p->unknown > 0)
        tl_text_addf(t, " Runs that could not be calculated, and count as danger: %zu.",
                     p->unknown);
}

static void say_asked(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    tl_text_add(&t, "How sure: ");
    tl_uncertain_add_asked(&t, v->sure.p, v->sure.n > 1 ? " of each" : "");
    tl_text_addf(&t, "%s%s", v->sure.n > 1 ? ", the same values for all" : "",
                 v->steady ? "; they begin as the file does, so its first days count, too" : "");
    tl_text_add(&t, ".");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

static void say_if_enough(const struct tl_size_view *v, FILE *f)
{
    const struct tl_paired *p = &v->sure.p[0];
    const struct tl_size_quantity *q = &v->quantity[0];
    const char *way = !q->most ? "more" : q->whole ? "fewer" : "less";
    struct tl_text t = {0};
    if (p->verdict == TL_WITHIN)
        return;
    if ((double)p->caution.runs >= TL_TALLY_RARE * (double)p->caution.of) {
        tl_text_addf(&t,
                     "Take care: this is not enough to count on. Try %s than this, or more to "
                     "spare (--margin), with --uncertain again.",
                     way);
        if (!v->one.one_turn)
            tl_text_addf(&t, " Mind that it fails again with still %s, as told above.", way);
    } else
        tl_text_add(&t, "These are too few runs to be sure that it stays within limits in more "
                        "than 95 of 100; more of them (--uncertain) will tell.");
    add_why(&t, p);
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

static void say_front(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    tl_text_add(&t, "Within limits, of 100 runs (90 % sure):");
    for (size_t i = 0; i < v->sure.n; i++) {
        const size_t k = v->sure.row[i];
        const struct tl_size_result *r = &v->front.second[k];
        char within[TL_CHANCE_SIZE];
        tl_chance_short(&v->sure.p[i].within, within);
        tl_text_addf(&t, "%s %s with ", i ? ";" : "",
                     tl_size_value(&v->quantity[0], v->front.first[k]).text);
        tl_text_addf(&t, "%s: %s", tl_size_value(&v->quantity[1], r->point[r->answer].value).text,
                     within);
    }
    tl_text_add(&t, ".");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

void tl_size_uncertain_text(const struct tl_size_view *v, FILE *f)
{
    if (v->sure.n == 0)
        return;
    say_asked(v, f);
    if (v->quantities == 1)
        say_if_enough(v, f);
    else
        say_front(v, f);
}
