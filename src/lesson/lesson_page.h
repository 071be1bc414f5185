/* Lessons as one page: for a learner, whose answer is folded away, or for a teacher, with all of them. */
#ifndef TL_LESSON_PAGE_H
#define TL_LESSON_PAGE_H

#include "told.h"

struct tl_lesson_page {
    const struct tl_lesson_told *told;
    const char *charts;   /* holds <name>.svg of each lesson; NULL: none was drawn */
    char *const *command; /* of each lesson the one to try */
    size_t lessons;
    const struct tl_glossary *glossary; /* of a teacher's page; NULL: a learner's, of one lesson */
};

/* Write it to `path`, where it appears when whole. TL_OK; TL_E_IO with the reason in `why`; TL_E_MEMORY. */
int tl_lesson_page_write(const struct tl_lesson_page *p, const char *path, char why[TL_LESSON_WHY]);

#endif
