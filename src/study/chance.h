/* A share of runs, and how sure it is. */
#ifndef TL_CHANCE_H
#define TL_CHANCE_H

#include <stddef.h>

struct tl_chance {
    size_t runs, of;  /* so many of so many */
    double low, high; /* of the share, 0..1: with it or with more on either side the count is to be
                       * expected in 1 case of 20 at most; 0 and 1 where `of` is 0 */
};

/* Clopper and Pearson 1934: the exact 90 % interval of runs drawn by chance. Points that fill the range evenly
 * tell more than that, so it is too wide rather than too narrow. */
struct tl_chance tl_chance_of(size_t runs, size_t of);

/* Of so many values in rising order the last, counted from 1, that is sure, at 95 %, to lie no higher than what `share`
 * of all lie below (Wilks 1941, "Determination of sample sizes for setting tolerance limits", Annals of Mathematical
 * Statistics 12:91-96); 0: there are too few, fewer than tl_chance_least(share). */
size_t tl_chance_rank(size_t of, double share);
size_t tl_chance_least(double share); /* share above 0, below 1 */

#define TL_CHANCE_SIZE 96
/* In words: "83 of 100 runs (90 % sure: 80 to 86)", "none of 1000 runs (90 % sure: at most 0.3 of 100)", "all 1000 runs
 * (90 % sure: at least 99.7 of 100)", below 100 runs "17 of 20 runs (90 % sure: 65 to 95.8 of 100)". The ends are
 * rounded outwards; neither 0 nor 100 of 100 is said where it is not so, but "99.99 of 100". */
void tl_chance_text(const struct tl_chance *c, char text[TL_CHANCE_SIZE]);
/* The same without the interval: "83 of 100 runs". */
void tl_chance_share_text(const struct tl_chance *c, char text[TL_CHANCE_SIZE]);
/* For a table, in hundredths: "17 (15-20)", "0 (0-0.3)", ">99.9 (99.9-100)": at most one digit. */
void tl_chance_short(const struct tl_chance *c, char text[TL_CHANCE_SIZE]);

#endif
