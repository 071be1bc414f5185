/* How sure the answers of a sizing are: uncertain runs at each of them, and at the value beside. */
#ifndef TL_SIZE_UNCERTAIN_H
#define TL_SIZE_UNCERTAIN_H

#include "size_view.h"
#include "uncertain.h"

/* What is sized must not vary by itself. A status; failures have been reported. */
int tl_size_uncertain_check(const struct tl_study_task *t, const struct tl_size_view *v);
/* Make them where they are asked for and there is an answer; into v->sure. As above. */
int tl_size_uncertain_run(struct tl_study_task *t, struct tl_size_view *v);
void tl_size_sure_free(struct tl_size_sure *s);

/* "the water stays within limits in …, comes into danger in …": of an answer, or of the value beside it. */
void tl_size_uncertain_add(struct tl_text *t, const struct tl_paired *p);
/* What was run, and whether that is enough; and the same of several answers. */
void tl_size_uncertain_text(const struct tl_size_view *v, FILE *f);

#endif
