/* Counting, and what is read off the counts. */
#include "tally.h"

#include <math.h>
#include <stdlib.h>

#include "text.h"
#include "towerloop/status.h"

#define PLACES 1048576.0 /* 2^20: squares of a million runs fit in 64 bits */

/* --- room --------------------------------------------------------------------------------------- */

static size_t most_bins(void)
{
    size_t most = 0;
    for (size_t w = 0; w < TL_NWATCHED; w++)
        if (tl_watched(w)->bins.count > most)
            most = tl_watched(w)->bins.count;
    return most;
}

int tl_tally_new(const struct tl_spread *s, struct tl_tally *t)
{
    const size_t intervals = s->intervals.count;
    size_t wide = 0, narrow = intervals;
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const size_t bins = tl_limit_bins((enum tl_limit_id)i)->count;
        wide += (bins + 1) * s->inputs;
        narrow += intervals + bins;
    }
    narrow += TL_NWATCHED * intervals * most_bins();
    *t = (struct tl_tally){.spread = s,
                           .room = calloc(wide * sizeof(uint64_t) + narrow * sizeof(uint32_t), 1)};
    if (s->sensitivity)
        t->sums = calloc((size_t)TL_NLIMIT * TL_TALLY_GROUPS, sizeof *t->sums);
    if (!t->room || (s->sensitivity && !t->sums))
        return TL_E_MEMORY;
    uint64_t *sum = t->room;
    uint32_t *count = (uint32_t *)(sum + wide);
    t->lost_in = count;
    count += intervals;
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const size_t bins = tl_limit_bins((enum tl_limit_id)i)->count;
        t->limit[i].first_in = count;
        t->limit[i].worst = count + intervals;
        count += intervals + bins;
        t->limit[i].place = sum;
        t->limit[i].square = sum + bins * s->inputs;
        sum += (bins + 1) * s->inputs;
    }
    t->fan = count;
    return TL_OK;
}

void tl_tally_free(struct tl_tally *t)
{
    free(t->room);
    free(t->sums);
    t->room = NULL;
    t->sums = NULL;
}

/* --- counting ----------------------------------------------------------------------------------- */

static void add_limit(struct tl_tally *t, enum tl_limit_id id, const struct tl_spread_limit *l,
                      const uint64_t *place)
{
    const struct tl_spread *s = t->spread;
    struct tl_tally_limit *sum = &t->limit[id];
    if (!l->judged || isnan(l->worst))
        return;
    const size_t bin = tl_bins_at(tl_limit_bins(id), l->worst);
    sum->judged++;
    sum->caution += l->grade >= TL_CAUTION;
    sum->danger += l->grade >= TL_DANGER;
    sum->worst[bin]++;
    sum->least = sum->judged > 1 ? fmin(sum->least, l->worst) : l->worst;
    sum->most = sum->judged > 1 ? fmax(sum->most, l->worst) : l->worst;
    if (l->grade > TL_WITHIN && !isnan(l->first_d))
        sum->first_in[tl_interval_at(&s->intervals, l->first_d)]++;
    for (size_t j = 0; j < s->inputs; j++) {
        sum->place[bin * s->inputs + j] += place[j];
        sum->square[j] += place[j] * place[j];
    }
}

static void add_run(struct tl_tally *t, size_t run, const struct tl_spread_run *r)
{
    uint64_t place[TL_SPREAD_MOST];
    double u[TL_SPREAD_MOST];
    t->runs++;
    if (!r->known) {
        t->unknown++;
        t->impossible += r->impossible;
        return;
    }
    t->grade[r->grade]++;
    t->unready += r->unready;
    t->ice += r->ice;
    t->fish_ice += r->fish_ice;
    t->outside += r->outside != 0;
    for (size_t i = 0; i < TL_NRANGE; i++)
        t->outside_of[i] += r->outside >> i & 1;
    if (r->lost) {
        t->lost++;
        t->lost_in[tl_interval_at(&t->spread->intervals, r->lost_d)]++;
    }
    tl_spread_point(t->spread, run, u);
    for (size_t j = 0; j < t->spread->inputs; j++)
        place[j] = (uint64_t)(u[j] * PLACES);
    for (size_t i = 0; i < TL_NLIMIT; i++)
        add_limit(t, (enum tl_limit_id)i, &r->limit[i], place);
}

/* A base point. One that lacks a run is missed whole. */
static void add_base(struct tl_tally *t, const struct tl_block *b, size_t k)
{
    const size_t run = (size_t)b->index * TL_BLOCK_RUNS + k;
    const size_t group = run * TL_TALLY_GROUPS / t->spread->runs;
    const struct tl_spread_run *r = &b->run[k];
    double result[TL_INDEX_RUNS(TL_INDEX_INPUTS)];
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        result[0] = r->known && r->limit[i].judged ? r->limit[i].worst : NAN;
        for (size_t j = 0; j < b->others; j++)
            result[1 + j] = b->other[(k * b->others + j) * TL_NLIMIT + i];
        tl_index_add(&t->sums[i * TL_TALLY_GROUPS + group], t->spread->inputs, result);
    }
}

void tl_tally_add(struct tl_tally *t, const struct tl_block *b)
{
    const size_t wide = most_bins();
    for (size_t k = 0; k < b->runs; k++)
        add_run(t, (size_t)b->index * TL_BLOCK_RUNS + k, &b->run[k]);
    for (size_t k = 0; k < b->runs && t->sums; k++)
        add_base(t, b, k);
    for (size_t i = 0; i < b->rows; i++) {
        const size_t last = tl_watched(i / t->spread->intervals.count)->bins.count - 1u;
        for (size_t k = 0; k < b->filled[i]; k++) {
            const size_t bin = b->bin[i * TL_BLOCK_RUNS + k]; /* out of a file: not to be trusted */
            t->fan[i * wide + (bin < last ? bin : last)]++;
        }
    }
}

/* --- chances ------------------------------------------------------------------------------------ */

struct tl_chance tl_tally_beyond(const struct tl_tally *t, enum tl_grade grade)
{
    size_t runs = t->unknown;
    for (unsigned g = grade; g <= TL_DANGER; g++)
        runs += t->grade[g];
    return tl_chance_of(runs, t->runs);
}

struct tl_chance tl_tally_within(const struct tl_tally *t)
{
    return tl_chance_of(t->grade[TL_WITHIN], t->runs);
}

struct tl_chance tl_tally_lost(const struct tl_tally *t)
{
    return tl_chance_of(t->lost + t->unknown, t->runs);
}

struct tl_chance tl_tally_limit_beyond(const struct tl_tally *t, enum tl_limit_id limit,
                                       enum tl_grade grade)
{
    const struct tl_tally_limit *l = &t->limit[limit];
    return tl_chance_of((grade == TL_DANGER ? l->danger : l->caution) + t->unknown,
                        l->judged + t->unknown);
}

enum tl_grade tl_tally_verdict(const struct tl_tally *t)
{
    for (int g = TL_DANGER; g > TL_WITHIN; g--)
        if (!(tl_tally_beyond(t, (enum tl_grade)g).high < TL_TALLY_RARE))
            return (enum tl_grade)g;
    return TL_WITHIN;
}

void tl_tally_but(enum tl_grade verdict, const struct tl_chance *caution,
                  const struct tl_chance *danger, char but[TL_TALLY_BUT])
{
    const struct tl_chance *reached = verdict == TL_DANGER ? danger : caution;
    const struct tl_chance *worse = danger->runs > 0 ? danger : caution;
    char text[TL_CHANCE_SIZE];
    *but = '\0';
    const bool few = reached->of < tl_chance_least(TL_TALLY_RARE);
    if (verdict > TL_WITHIN && few && reached->low < TL_TALLY_RARE) {
        (void)tl_format(but, TL_TALLY_BUT, ", but so few runs can show no better; it takes %zu",
                        tl_chance_least(TL_TALLY_RARE));
    } else if (verdict > TL_WITHIN && (double)reached->runs < TL_TALLY_RARE * (double)reached->of) {
        (void)tl_format(but, TL_TALLY_BUT,
                        ", but only as these runs are too few to be sure of better");
    } else if (verdict < TL_DANGER && worse->runs > 0 &&
               (verdict == TL_WITHIN || worse == danger)) {
        tl_chance_share_text(worse, text);
        (void)tl_format(but, TL_TALLY_BUT, ", but %s in %s", worse == danger ? "danger" : "caution",
                        text);
    }
}

/* --- quantiles ---------------------------------------------------------------------------------- */

static double middle(const struct tl_bins *b, const uint32_t *counted, double share)
{
    const size_t bin = tl_bins_quantile(counted, b->count, share);
    return bin == SIZE_MAX ? NAN : tl_bins_middle(b, bin);
}

static double when(const struct tl_tally *t, const uint32_t *counted, double share)
{
    const struct tl_intervals *v = &t->spread->intervals;
    const size_t interval = tl_bins_quantile(counted, v->count, share);
    return interval == SIZE_MAX ? NAN : tl_interval_middle(v, interval);
}

double tl_tally_fan(const struct tl_tally *t, size_t watched, size_t interval, double share)
{
    const size_t row = tl_spread_row(t->spread, watched, interval);
    return middle(&tl_watched(watched)->bins, t->fan + row * most_bins(), share);
}

double tl_tally_worst(const struct tl_tally *t, enum tl_limit_id limit, double share)
{
    const struct tl_tally_limit *l = &t->limit[limit];
    const double value = middle(tl_limit_bins(limit), l->worst, share);
    return l->judged > 0 ? fmin(fmax(value, l->least), l->most) : value;
}

double tl_tally_first_d(const struct tl_tally *t, enum tl_limit_id limit, double share)
{
    return when(t, t->limit[limit].first_in, share);
}

double tl_tally_lost_d(const struct tl_tally *t, double share)
{
    return when(t, t->lost_in, share);
}

/* --- ranks -------------------------------------------------------------------------------------- */

double tl_tally_correlation(const struct tl_tally *t, enum tl_limit_id limit, size_t input)
{
    const struct tl_tally_limit *l = &t->limit[limit];
    const size_t bins = tl_limit_bins(limit)->count, inputs = t->spread->inputs;
    const double n = (double)l->judged;
    double places = 0, together = 0, ranks = 0, below = 0;

    for (size_t k = 0; k < bins; k++)
        places += (double)l->place[k * inputs + input];
    for (size_t k = 0; k < bins; k++) {
        const double here = l->worst[k];
        const double rank = below + here / 2 - n / 2; /* from the middle one */
        together += rank * ((double)l->place[k * inputs + input] - here * places / n);
        ranks += here * rank * rank;
        below += here;
    }
    const double square = (double)l->square[input] - places * places / n;
    return n > 0 && ranks > 0 && square > 0 ? together / sqrt(ranks * square) : NAN;
}

void tl_tally_indices(const struct tl_tally *t, enum tl_limit_id limit, struct tl_indices *out)
{
    *out = (struct tl_indices){.known = false};
    if (t->sums)
        tl_index_solve(t->sums + (size_t)limit * TL_TALLY_GROUPS, TL_TALLY_GROUPS,
                       t->spread->inputs, out);
}
