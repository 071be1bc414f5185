/* How a sizing says numbers, limits and ranges. */
#ifndef TL_SIZE_WORDS_H
#define TL_SIZE_WORDS_H

#include "size_view.h"
#include "text.h"

struct tl_size_words {
    char text[64];
};

/* Three digits, never a power of ten; "-" where there is none. */
struct tl_size_words tl_size_figure(double value);
struct tl_size_words tl_size_value(const struct tl_size_quantity *q, double value);
/* Percent with one place, or with as many as tell it from `margin`. */
struct tl_size_words tl_size_share(double share, double margin);

/* "nitrite, at worst 0.18 mg/L as N, its limit 0.2: 10.5 % to spare" */
void tl_size_add_limit(struct tl_text *t, const struct tl_size_trial *trial, int i, double margin);
/* Why a trial does not hold, in a clause. */
void tl_size_add_failing(struct tl_text *t, const struct tl_size_trial *trial, double margin);
/* "hydraulic load 1.06 m/h (wetting of the tower: 1.25 to 40)", every one that was left. */
void tl_size_add_ranges(struct tl_text *t, const struct tl_size_trial *trial);

/* What a run says with its verdict, of those that the answers are from: what it cannot tell. Nothing where there is
 * no answer, and of the day that repeats itself. */
void tl_size_add_cannot_tell(struct tl_text *t, const struct tl_size_view *v);

/* What the answer hangs on, and what one has to know before building by it; to `f`. */
void tl_size_cautions(const struct tl_size_view *v, FILE *f);
/* What it costs and how it is built, where there is an answer. */
void tl_size_bill(const struct tl_size_view *v, FILE *f);
/* The arithmetic of a handbook beside it. */
void tl_size_by_hand(const struct tl_size_view *v, FILE *f);

#endif
