/* How sure the times of a failure are: uncertain runs of it, in words and as JSON. */
#ifndef TL_ENDURE_SURE_H
#define TL_ENDURE_SURE_H

#include "endure_uncertain.h"
#include "uncertain.h"

/* Make the runs of the failure that the study asks about. A status; failures have been reported. */
int tl_endure_sure_run(struct tl_study_task *t, const struct tl_endure_study *s,
                       const struct tl_paired *p, struct tl_endure_uncertain *out);

/* Nothing where s->uncertain is NULL. */
void tl_endure_sure_text(const struct tl_endure_study *s, FILE *f);
/* One sentence for the card, with a blank before it where something stands there. */
void tl_endure_sure_card(const struct tl_endure_study *s, struct tl_text *t);
json_t *tl_endure_sure_json(const struct tl_endure_study *s); /* null: it was not asked */

#endif
