/* The folder of a study. study.json marks it as ours and says what the study was asked; runs/ holds the
 * folder of every run that was finished, so that the same command goes on from there; inputs/ holds
 * copies of the files that were given. A run that is there already with the same scenario, tolerance
 * and build is not run again.
 *
 * Life cycle: tl_study_begin() -> tl_study_run() from any threads -> result files ->
 * tl_study_finish() -> tl_study_end(). */
#ifndef TL_STUDY_FOLDER_H
#define TL_STUDY_FOLDER_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "record.h"
#include "run_result.h"

#define TL_STUDY_UNCERTAIN "uncertain" /* a folder of folders of blocks of runs, see blocks.h */

struct tl_study_plan {
    const char *kind;         /* the command: "compare" */
    const json_t *question;   /* what it was asked, an object; another question is another study */
    const char *const *input; /* paths of the files given, copied to inputs/; closed by NULL */
    const char *const
        *results; /* names of the files it writes besides and in cases/; closed by NULL */
    const char *const *charts; /* names, without ending, of pictures in charts/; closed by NULL */
};

struct tl_study {
    const struct tl_study_plan *plan;
    char *place;
    char **input_name; /* in inputs/, one for each input */
    size_t inputs;
    json_t *written; /* checksums of their copies */
    int parents_made;
    bool made;  /* the folder was not there before */
    bool began; /* study.json is ours */
    bool alone; /* no other process works in it: `lock` sees to that */
    int lock;
};

/* Open the folder at `place`: nothing there, an empty folder, or the folder of the same question,
 * which is gone on with. With `force` any earlier study there is deleted first, as long as nothing
 * else lies in it. One in which another process is at work is refused. `plan` must outlive `s`. TL_OK; TL_E_REFUSED or TL_E_IO with a message in `why`;
 * TL_E_MEMORY. tl_study_end() is due in any case. */
int tl_study_begin(struct tl_study *s, const struct tl_study_plan *plan, const char *place,
                   bool force, char *why, size_t size);

/* The command whose study is in a folder; "" where there is none. TL_OK or TL_E_MEMORY. */
int tl_study_kind(const char *folder, char *kind, size_t size);

/* A name for a run's folder from one for people, "20 now" -> "20-now"; `taken` holds those already
 * given, which it is made to differ from. */
#define TL_STUDY_NAME_SIZE 64
void tl_study_name(const char *text, const char (*taken)[TL_STUDY_NAME_SIZE], size_t n,
                   char out[TL_STUDY_NAME_SIZE]);

/* The result of a scenario: of the run called `name` if it is there, else it is run. Different names
 * may be asked for at the same time. `fresh` (may be NULL): whether it had to be run.
 * As tl_record_run(). */
int tl_study_run(const struct tl_study *s, const char *name, const struct tl_scenario *scenario,
                 const struct tl_record_options *options, struct tl_run_result *out, bool *fresh,
                 char *why, size_t size);
/* Path of something in the folder; caller frees; NULL when out of memory. */
char *tl_study_path(const struct tl_study *s, const char *name);
/* Write a text to a file in the folder, which appears when whole. TL_OK, TL_E_IO, TL_E_MEMORY. */
int tl_study_write(const struct tl_study *s, const char *name, const char *text);

/* Everything is written: delete the runs other than `name`, of earlier states of the files, and say so in
 * study.json. TL_OK, TL_E_IO or TL_E_MEMORY. */
int tl_study_finish(const struct tl_study *s, const char (*name)[TL_STUDY_NAME_SIZE], size_t names);
/* Free what it holds; a folder that was made and holds no run is deleted again. */
void tl_study_end(struct tl_study *s);

#endif
