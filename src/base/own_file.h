/* The mark by which the program knows a page or a picture that it wrote. */
#ifndef TL_BASE_OWN_FILE_H
#define TL_BASE_OWN_FILE_H

#include <stdbool.h>

/* What the element `meta` of a page says, within its first 256 bytes. */
#define TL_OWN_PAGE_NAME "generator"
#define TL_OWN_PAGE_MARK "towerloop"

/* Puts the mark into a picture that is whole and ends in .png, .svg or .pdf: a text chunk or a comment
 * before its last line, which shows nowhere. TL_OK; TL_E_IO (errno says why); TL_E_INPUT: no such picture. */
int tl_own_file_mark(const char *path);

/* Whether a file bears the mark. TL_OK; TL_E_IO: it cannot be read, errno says why. */
int tl_own_file_look(const char *path, bool *own);

#endif
