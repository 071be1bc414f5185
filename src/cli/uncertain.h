/* --uncertain N of compare, size and endure: N runs over what is uncertain, as towerloop spread makes them. */
#ifndef TL_CLI_UNCERTAIN_H
#define TL_CLI_UNCERTAIN_H

#include <jansson.h>

#include "paired.h"
#include "study_task.h"

/* What varies takes values of its own, so a setting of it, "KEY" or "KEY=VALUE", would change nothing: TL_E_INPUT with
 * a message that names `option`; TL_OK for all other keys. */
int tl_uncertain_clash(const struct tl_spread_input *input, size_t inputs, const char *option,
                       const char *set);
/* Tell of own values outside of the built-in ranges, which were widened up to them; not of those that stood `before`.
 * `whose` goes first in the message. */
void tl_uncertain_warn(const struct tl_spread_input *input, size_t inputs,
                       const struct tl_spread_input *before, size_t befores, const char *whose);
/* The key whose own value differs between two scenarios while both take the same values of their own for it, so that
 * the difference is lost; NULL: none. */
const char *tl_uncertain_hidden(const struct tl_spread_input *input, size_t inputs,
                                const struct tl_spread_input *other, size_t others);
/* A clash that goes by what became of the file, not by the key as it was written, as --set pump={...} sets pump.flow
 * and tower.media the surface of the media: TL_E_INPUT with a message that names `whose`; TL_OK; TL_E_MEMORY. */
int tl_uncertain_in_vain(const struct tl_spread_input *input, size_t inputs, const char *file,
                         const char *whose);
/* The scenario's own values that lie outside of the range given for them are told, and a clash with one of the
 * --set is one. TL_OK, TL_E_INPUT or TL_E_MEMORY. */
int tl_uncertain_check(const struct tl_spread_input *input, size_t inputs, const char *file,
                       const struct tl_options *o);

/* Fill in all of `p` but what it is of. A status; failures have been reported. */
int tl_uncertain_prepare(const struct tl_study_task *t, struct tl_paired *p, size_t n);
/* Make the runs of p[i] in the study's folder uncertain/name[i]. A status; failures have been reported. */
int tl_uncertain_run(struct tl_study_task *t, struct tl_paired *p, size_t n,
                     const char *const *name);
/* Report what became of the runs. Returns the status. */
int tl_uncertain_complain(int status, const char *file, const char *why, int reason);

/* "1000 runs of each, every time with other values for 20 uncertain inputs (seed 1)": what was asked. */
void tl_uncertain_add_asked(struct tl_text *t, const struct tl_paired *p, const char *of);

/* An object of a chance: runs, of, share, low, high. */
json_t *tl_chance_object(struct tl_chance c);
/* What was asked: runs, seed, keys of the inputs, what the intervals are. */
json_t *tl_uncertain_asked_json(const struct tl_spread *s);
/* What was found of one; better and worse than the first where there is one. */
json_t *tl_uncertain_json(const struct tl_paired *p, bool first);

#endif
