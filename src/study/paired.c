/* Spreads of several scenarios over the same points, run one after the other and counted against the first. */
#include "paired.h"

#include <stdlib.h>
#include <string.h>

#include "posix.h"
#include "spread_merge.h"
#include "tally.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"

/* --- what is asked ------------------------------------------------------------------------------ */

/* Inputs that were met so far, each with a coordinate of its own: that of its place here. */
struct met {
    const char *path[TL_SPREAD_MOST];
    size_t n;
};

static int share_out(struct tl_paired *p, struct met *met)
{
    for (size_t i = 0; i < p->spread.inputs; i++) {
        const char *path = p->spread.input[i].path;
        size_t k = 0;
        while (k < met->n && strcmp(met->path[k], path) != 0)
            k++;
        if (k == TL_SPREAD_MOST)
            return TL_E_REFUSED;
        if (k == met->n)
            met->path[met->n++] = path;
        p->coordinate[i] = (unsigned char)k;
    }
    return TL_OK;
}

int tl_paired_prepare(struct tl_paired *p, size_t n, const struct tl_paired_plan *plan,
                      struct tl_diag *diag)
{
    struct met met = {.n = 0};
    int status = TL_OK;
    for (size_t i = 0; i < n && !status; i++) {
        struct tl_spread *s = &p[i].spread;
        *s = (struct tl_spread){.file = p[i].file,
                                .set = p[i].set,
                                .sets = p[i].sets,
                                .runs = plan->runs,
                                .seed = plan->seed,
                                .level = tl_ponds_widest(),
                                .scenario = p[i].scenario,
                                .coordinate = p[i].coordinate};
        status = tl_spread_inputs_read(s->file, s->set, s->sets, plan->from, &s->input, &s->inputs,
                                       diag);
        if (!status)
            status = share_out(&p[i], &met);
    }
    for (size_t i = 0; i < n && !status; i++) {
        p[i].spread.coordinates = met.n;
        status = tl_spread_prepare(&p[i].spread);
    }
    return status;
}

void tl_paired_free(struct tl_paired *p, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        tl_spread_free(&p[i].spread);
        free(p[i].spread.input);
        free(p[i].folder);
        p[i].spread.input = NULL;
        p[i].folder = NULL;
    }
}

/* --- counting ----------------------------------------------------------------------------------- */

static enum tl_grade grade_of(const struct tl_spread_run *r)
{
    return r->known ? r->grade : TL_DANGER;
}

static void take_chances(struct tl_paired *p, const struct tl_tally *t, size_t better, size_t worse)
{
    p->unknown = t->unknown;
    p->impossible = t->impossible;
    p->verdict = tl_tally_verdict(t);
    p->within = tl_tally_within(t);
    p->caution = tl_tally_beyond(t, TL_CAUTION);
    p->danger = tl_tally_beyond(t, TL_DANGER);
    p->lost = tl_tally_lost(t);
    p->outside = tl_chance_of(t->outside, t->runs);
    p->better = tl_chance_of(better, t->runs);
    p->worse = tl_chance_of(worse, t->runs);
    for (int i = 0; i < TL_NLIMIT; i++) {
        p->limit[i][0] = tl_tally_limit_beyond(t, (enum tl_limit_id)i, TL_CAUTION);
        p->limit[i][1] = tl_tally_limit_beyond(t, (enum tl_limit_id)i, TL_DANGER);
    }
}

static int count(struct tl_paired *p, const struct tl_paired *first, char *why, size_t size)
{
    struct tl_tally tally;
    struct tl_block own, other;
    size_t better = 0, worse = 0;
    int status = tl_tally_new(&p->spread, &tally);
    const int own_room = tl_spread_block_new(&p->spread, &own);
    const int other_room = tl_spread_block_new(&first->spread, &other);
    if (!status)
        status = own_room ? own_room : other_room;
    for (size_t i = 0; i < tl_spread_blocks(&p->spread) && !status; i++) {
        status = tl_spread_read_block(&p->spread, p->folder, i, &own, why, size);
        if (!status)
            status = tl_spread_read_block(&first->spread, first->folder, i, &other, why, size);
        if (status)
            break;
        tl_tally_add(&tally, &own);
        for (size_t k = 0; k < own.runs; k++) {
            better += grade_of(&own.run[k]) < grade_of(&other.run[k]);
            worse += grade_of(&own.run[k]) > grade_of(&other.run[k]);
        }
    }
    if (!status)
        take_chances(p, &tally, better, worse);
    tl_block_free(&own);
    tl_block_free(&other);
    tl_tally_free(&tally);
    return status;
}

enum tl_limit_id tl_paired_weakest(const struct tl_paired *p, enum tl_grade grade)
{
    const size_t beyond = grade == TL_DANGER;
    size_t worst = 0;
    for (size_t i = 1; i < TL_NLIMIT; i++)
        if (p->limit[i][beyond].runs > p->limit[worst][beyond].runs)
            worst = i;
    return p->limit[worst][beyond].runs > p->unknown ? (enum tl_limit_id)worst : TL_NLIMIT;
}

/* --- running ------------------------------------------------------------------------------------ */

struct progress {
    const struct tl_paired_course *course;
    size_t before, of; /* runs */
};

static void say_runs(void *arg, size_t runs, size_t of)
{
    const struct progress *p = arg;
    (void)of;
    p->course->progress(p->course->progress_arg, p->before + runs, p->of);
}

int tl_paired_run(struct tl_paired *p, size_t n, const struct tl_paired_course *course, char *why,
                  size_t size)
{
    struct progress progress = {.course = course};
    int status = TL_OK;
    *why = '\0';
    for (size_t i = 0; i < n; i++)
        progress.of += p[i].spread.runs;
    for (size_t i = 0; i < n && !status; i++) {
        const struct tl_spread_course own = {.folder = p[i].folder,
                                             .shard = {1, 1},
                                             .threads = course->threads,
                                             .interrupted = course->interrupted,
                                             .progress = course->progress ? say_runs : NULL,
                                             .progress_arg = &progress};
        status = tl_posix_make_folder(p[i].folder, NULL);
        if (!status)
            status = tl_spread_run(&p[i].spread, &own);
        progress.before += p[i].spread.runs;
    }
    for (size_t i = 0; i < n && !status; i++)
        status = count(&p[i], &p[0], why, size);
    return status;
}
