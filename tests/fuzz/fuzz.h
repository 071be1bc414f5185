/* What the harnesses share: one is a file beside this one, with the entry that libFuzzer calls. A broken
 * promise ends the process with a sentence, as a sanitizer does. */
#ifndef TL_FUZZ_H
#define TL_FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "towerloop/diag.h"
#include "towerloop/scenario.h"

/* Returns 0. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Ends the process unless `holds`; then says what was promised. */
void tl_fuzz_require(bool holds, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* A folder in memory where the system has one, made at the first call and removed with all it holds at the end.
 * It lies in TMPDIR if that is set. Without a slash at its end. */
const char *tl_fuzz_folder(void);
/* The path of a file or folder there; static, good until the next call. */
const char *tl_fuzz_path(const char *name);
/* Puts a file there. */
void tl_fuzz_put(const char *name, const void *data, size_t size);

/* Whether reading ended as it may: TL_OK without an error among the messages, or TL_E_INPUT with one; and
 * each message is a line of plain text that says something. A message about `file` names a line that is
 * among the first `lines`. */
void tl_fuzz_check_messages(const struct tl_diag *d, int status, const char *file, size_t lines);
/* Lines of a text, counted as an editor does. */
size_t tl_fuzz_lines(const void *data, size_t size);

/* A scenario that names a log of `keys`, YAML in which `log.csv` is the log, is read with `data` in its
 * place. Checks messages; *out is to be freed. Returns the status. */
int tl_fuzz_read_with_log(const char *keys, const void *data, size_t size, struct tl_scenario *out);

/* A table must rise in x and be finite throughout. */
void tl_fuzz_check_table(const struct tl_table *t, const char *what);

#endif
