/* What the commands share that run many scenarios and keep them in a folder: from the options to the
 * charts, the files and the answer on the terminal. */
#ifndef TL_STUDY_TASK_H
#define TL_STUDY_TASK_H

#include "cli.h"
#include "progress.h"
#include "study_folder.h"

/* The task of such a command begins with one. */
struct tl_study_task {
    struct tl_options options;
    struct tl_progress progress;
    struct tl_diag diag;
    struct tl_scenario scenario; /* of a command that takes one file */
    char *named[TL_NINPUT];      /* paths of the files it names, or NULL */
    struct tl_study_plan plan;
    json_t *question;
    const char **input; /* files that are copied to the folder; closed by NULL. NULL: those given */
    struct tl_study folder;
};

/* What a command does, in this order. */
struct tl_study_steps {
    const struct tl_command *command;
    size_t size;            /* of the task, which starts as zeros */
    int (*answer)(void *t); /* read, open the folder, run. A status; failures have been reported */
    int (*draw)(void *t, const char *folder,
                struct tl_chart_outcome *outcome); /* its status; NULL: no charts */
    int (*write)(void *t);                         /* the files. A status; errno may say why */
    void (*print)(void *t);
    int (*judge)(void *t);    /* the exit code where all went well */
    void (*release)(void *t); /* what the task holds besides */
};

/* The whole of a command. Returns its exit code. */
int tl_study_command(int argc, char **argv, const struct tl_study_steps *steps);

/* Read the scenario that was given. A status; failures have been reported. */
int tl_study_read(struct tl_study_task *t);
/* Open the folder of the study of `question`, which is taken over. `result` and `chart` are as in
 * tl_study_plan and outlive the task. A status; failures have been reported. */
int tl_study_open(struct tl_study_task *t, const char *kind, json_t *question,
                  const char *const *result, const char *const *chart);

#endif
