/* A finished page as a file. */
#ifndef TL_HTML_PAGE_FILE_H
#define TL_HTML_PAGE_FILE_H

#include "writer.h"

/* It appears under `path` when whole. TL_OK, TL_E_IO with the reason in `why`, TL_E_MEMORY. */
int tl_page_file_write(const struct tl_html *h, const char *path, char *why, size_t size);

#endif
