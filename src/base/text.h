/* A growable string, formatting that ignores the locale, UTF-8, whole files. */
#ifndef TL_BASE_TEXT_H
#define TL_BASE_TEXT_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

/* All zero is a valid empty text. A failed allocation sets `failed` and later additions do nothing,
 * so a caller checks once, at the end. */
struct tl_text {
    char *data; /* NUL-terminated, or NULL while nothing was added */
    size_t length;
    size_t capacity;
    bool failed;
    bool lent; /* `data` is the caller's, see tl_text_over() */
};

/* An empty text that is written into `buffer`, asks for no memory and fails where that is full. */
struct tl_text tl_text_over(char *buffer, size_t size);

void tl_text_add_bytes(struct tl_text *t, const char *bytes, size_t n);
void tl_text_add(struct tl_text *t, const char *s);
/* Another text, in so many bytes at least: blanks before it, behind it where `room` is negative. What
 * failed there has failed here. */
void tl_text_add_text(struct tl_text *t, int room, const struct tl_text *more);
/* A user's words so that nothing in them can steer a terminal, or stand there unseen: "\x1b", "\u202e". */
void tl_text_add_visible(struct tl_text *t, const char *words);
/* A cell of a CSV file (RFC 4180) with a user's words: in quotation marks, which are doubled. What a spreadsheet would
 * take for a formula gets an apostrophe in front. */
void tl_text_add_cell(struct tl_text *t, const char *words);
/* Decimal points whatever the locale. */
void tl_text_addf(struct tl_text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
void tl_text_addv(struct tl_text *t, const char *format, va_list args)
    __attribute__((format(printf, 2, 0)));
/* Whether nothing was ever added: not so where that failed. */
bool tl_text_is_empty(const struct tl_text *t);
/* The text so far; "" while empty. */
const char *tl_text_string(const struct tl_text *t);
void tl_text_free(struct tl_text *t);

/* snprintf and strtod in the C locale. */
int tl_format(char *buffer, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
double tl_strtod(const char *text, char **end);

/* Bytes of the well-formed character (RFC 3629) that `text` starts with, or 0. */
size_t tl_utf8_character(const char *text, size_t left);
/* Offset of the first byte that is not well-formed UTF-8, or `length`. */
size_t tl_utf8_fault(const char *text, size_t length);
/* The number of the well-formed character of so many bytes. */
unsigned tl_utf8_code(const char *text, size_t bytes);
/* Whether that is a character a reader sees: no control character, no mark that turns the direction of
 * writing or breaks a line, and not what is no character at all. */
bool tl_is_plain_character(unsigned code);
/* Whether a text is UTF-8 on one line, without control characters, marks that turn the direction of
 * writing, and what is no character at all. */
bool tl_is_plain_text(const char *text);
/* Length of the longest start of `text` that fits in `max` bytes without cutting a character. */
size_t tl_utf8_cut(const char *text, size_t max);
/* Columns that a well-formed character of so many bytes, or a text, takes on a terminal, whatever the
 * locale: 2 for those of Chinese, Japanese and Korean, 0 for accents that stand on the one before. */
size_t tl_utf8_columns(const char *text, size_t bytes);
size_t tl_utf8_width(const char *text);

/* The whole of a file of at most `max` bytes, with a NUL behind it. Caller frees. TL_OK, TL_E_IO
 * (errno says why), TL_E_INPUT (longer than `max`) or TL_E_MEMORY. */
int tl_read_file(const char *path, size_t max, char **out, size_t *length);
/* The same of nothing but a file: TL_E_REFUSED for a folder, a pipe or a device, of which one could wait
 * for ever. */
int tl_read_plain_file(const char *path, size_t max, char **out, size_t *length);
/* The same of a file or a pipe, which is empty when nobody writes to it. */
int tl_read_input(const char *path, size_t max, char **out, size_t *length);

/* Index of the candidate that `word` most likely stands for, or -1: letters left out, added,
 * swapped or changed, capitals ignored. */
int tl_nearest(const char *word, const char *const *candidate, size_t n);

#endif
