/* The parts of the command `lesson`: its runs, and what stands on the terminal. */
#ifndef TL_LESSON_VIEW_H
#define TL_LESSON_VIEW_H

#include <stdio.h>

#include "study_folder.h"
#include "told.h"

enum { TL_LESSON_RUNS = 8 };

/* A lesson and the runs of its scenario: as it is, then its variants. */
struct tl_lesson_task {
    const struct tl_lesson *lesson;
    char *path; /* of the scenario */
    struct tl_scenario scenario[TL_LESSON_RUNS];
    size_t runs;
    char folder[TL_LESSON_RUNS][TL_STUDY_NAME_SIZE]; /* of each, in runs/ */
    struct tl_lesson_told told;
    char *command; /* the one to try */
};

/* Read the scenario, which lies in `shelf`, with its variants. A status; failures have been reported. */
int tl_lesson_task_read(struct tl_lesson_task *t, const struct tl_lesson *lesson,
                        const char *shelf);
/* Give each run its folder's name; it begins with that of the lesson. TL_OK or TL_E_MEMORY. */
int tl_lesson_task_name(struct tl_lesson_task *t);
/* Run what is not there yet, and see what came out. A status; failures have been reported. */
int tl_lesson_task_run(struct tl_lesson_task *t, const struct tl_study *study);
void tl_lesson_task_free(struct tl_lesson_task *t);

/* What stands on the terminal; lines of 80 columns. */
void tl_lesson_print_question(const struct tl_lesson *l, FILE *f);
/* `answer`: the learner's choice; 0: none. */
void tl_lesson_print_answer(const struct tl_lesson_task *t, unsigned answer, FILE *f);
void tl_lesson_print_teacher(const struct tl_lesson_task *t, FILE *f);
void tl_lesson_print_glossary(const struct tl_glossary *g, FILE *f);

#endif
