/* Numbers, limits and ranges of a sizing in words. */
#include "size_words.h"

#include <math.h>
#include <string.h>

#include "towerloop/ranges.h"

#define MOST_PLACES 4
#define MOST_DIGITS 6
#define FAR_BEYOND  (-9.99) /* a trial counts no further */

struct tl_size_words tl_size_figure(double value)
{
    struct tl_size_words w = {"-"};
    if (isfinite(value))
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, 3, w.text, sizeof w.text);
    return w;
}

struct tl_size_words tl_size_value(const struct tl_size_quantity *q, double value)
{
    struct tl_size_words w;
    tl_size_value_text(q, value, w.text, sizeof w.text);
    return w;
}

static double rounded(double x, int places)
{
    return round(x * pow(10, places)) / pow(10, places);
}

struct tl_size_words tl_size_share(double share, double margin)
{
    struct tl_size_words w = {"-"};
    const double percent = 100 * share, asked = 100 * margin;
    int places = fabs(percent) < 99.95 ? 1 : 0;
    if (isnan(share))
        return w;
    /* a figure that falls short of the margin must not look like it */
    while (places > 0 && places < MOST_PLACES && percent != asked &&
           rounded(percent, places) == rounded(asked, places))
        places++;
    if (percent < -100)
        tl_format(w.text, sizeof w.text, "<-100");
    else if (places == MOST_PLACES)
        tl_format(w.text, sizeof w.text, "%s%.6g", percent < asked ? "<" : ">", asked);
    else
        tl_format(w.text, sizeof w.text, "%.*f", places,
                  rounded(percent, places) == 0 ? 0 : percent);
    return w;
}

static const char *const limit_unit[TL_NSIZE_LIMIT] = {
#define UNIT(id, name, unit) [id] = unit,
    TL_LIMIT_LIST(UNIT) TL_SIZE_OWN_LIST(UNIT)
#undef UNIT
};

/* Three digits, or more where they would look like those of `other`. */
static struct tl_size_words apart(double value, double other)
{
    struct tl_size_words w, o;
    for (int digits = 3; digits <= MOST_DIGITS; digits++) {
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, digits, w.text, sizeof w.text);
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, other, digits, o.text, sizeof o.text);
        if (value == other || strcmp(w.text, o.text) != 0)
            break;
    }
    return w;
}

/* Its spare is a distance from freezing, not from the hours. */
static void add_ice(struct tl_text *t, const struct tl_size_trial *trial, double margin)
{
    const double spare = trial->spare[TL_SIZE_ICE];
    if (spare < 0)
        tl_text_addf(t, "ice on the water for %s, which is danger to fish",
                     tl_hours_span(trial->worst[TL_SIZE_ICE]).text);
    else if (spare < 1)
        tl_text_addf(t, "ice on the water, none yet, but the water comes within %s degC of it",
                     tl_size_figure(spare * TL_SIZE_HEAT_BAND_DEGC).text);
    else
        tl_text_add(t, "ice on the water, which it never comes near");
    if (spare >= 0 && spare < margin)
        tl_text_addf(t, ", %s degC is asked for",
                     tl_size_figure(margin * TL_SIZE_HEAT_BAND_DEGC).text);
}

void tl_size_add_limit(struct tl_text *t, const struct tl_size_trial *trial, int i, double margin)
{
    const double spare = trial->spare[i];
    if (i == TL_SIZE_ICE) {
        add_ice(t, trial, margin);
        return;
    }
    tl_text_addf(t, "%s, at worst %s%s%s, its limit %s: ", tl_size_limit_name(i),
                 apart(trial->worst[i], trial->level[i]).text, *limit_unit[i] ? " " : "",
                 limit_unit[i], tl_size_figure(trial->level[i]).text);
    if (spare < FAR_BEYOND)
        tl_text_add(t, "far beyond it");
    else if (spare < 0)
        tl_text_addf(t, "beyond it by %s %%", tl_size_share(-spare, 0).text);
    else
        tl_text_addf(t, "%s %% to spare", tl_size_share(spare, margin).text);
    if (spare >= 0 && spare < margin)
        tl_text_addf(t, ", %s %% is asked for", tl_size_figure(100 * margin).text);
}

void tl_size_add_failing(struct tl_text *t, const struct tl_size_trial *trial, double margin)
{
    if (trial->end == TL_TRIAL_REFUSED)
        tl_text_addf(t, "there can be no such loop: %s", trial->why);
    else if (trial->end == TL_TRIAL_FAILED)
        tl_text_addf(t, "it cannot be told: %s", trial->why);
    else if (trial->fish_lost)
        tl_text_addf(t, "the fish run out of oxygen");
    else if (trial->tightest < 0)
        tl_text_addf(t, "there are no fish to judge the water for");
    else
        tl_size_add_limit(t, trial, trial->tightest, margin);
}

static const struct {
    const char *what, *unit, *use;
    double low, high;
} range_row[TL_NRANGE] = {
#define ROW(id, what, unit, low, high, use, source) [id] = {what, unit, use, low, high},
    TL_RANGE_LIST(ROW)
#undef ROW
};

void tl_size_add_ranges(struct tl_text *t, const struct tl_size_trial *trial)
{
    size_t n = 0;
    for (int i = 0; i < TL_NRANGE; i++)
        if (!isnan(trial->outside[i]))
            tl_text_addf(t, "%s%s %s%s%s (%s: %s to %s)", n++ ? ", " : "", range_row[i].what,
                         tl_size_figure(trial->outside[i]).text, *range_row[i].unit ? " " : "",
                         range_row[i].unit, range_row[i].use, tl_size_figure(range_row[i].low).text,
                         tl_size_figure(range_row[i].high).text);
}
