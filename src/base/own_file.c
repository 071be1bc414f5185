/* Marks and knows the program's own files. */
#include "own_file.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "posix.h"
#include "towerloop/status.h"

enum { HEAD = 256, END = 96 };

struct bytes {
    const char *at;
    size_t n;
};
#define BYTES(text)                                                                                \
    {                                                                                              \
        text, sizeof(text) - 1                                                                     \
    }

/* PNG, ISO/IEC 15948: chunks of length, kind, data and checksum; "Software" is a keyword of its own. */
static const struct kind {
    const char *ending;
    struct bytes mark, last;
} kinds[] = {
    {".png", BYTES("\0\0\0\x12tEXtSoftware\0towerloop\xf1\x5e\xb2\xd9"),
     BYTES("\0\0\0\0IEND\xae\x42\x60\x82")},
    {".svg", BYTES("<!-- towerloop -->\n"), BYTES("</svg>")},
    {".pdf", BYTES("% towerloop\n"), BYTES("%%EOF")},
};

static const struct kind *kind_of(const char *path)
{
    const char *dot = strrchr(path, '.');
    for (size_t i = 0; dot && i < sizeof kinds / sizeof *kinds; i++)
        if (strcmp(kinds[i].ending, dot) == 0)
            return &kinds[i];
    return NULL;
}

/* The last bytes of a file, at most END; where they begin goes to *from. */
static bool read_end(FILE *f, char end[END], size_t *n, long *from)
{
    if (fseek(f, 0, SEEK_END) != 0 || (*from = ftell(f)) < 0)
        return false;
    *from = *from > END ? *from - END : 0;
    if (fseek(f, *from, SEEK_SET) != 0)
        return false;
    *n = fread(end, 1, END, f);
    return !ferror(f);
}

/* Where the last line begins, or -1; line feeds may follow it. */
static long last_line(const struct kind *k, const char *end, size_t n)
{
    while (n > 0 && (end[n - 1] == '\n' || end[n - 1] == '\r'))
        n--;
    const size_t last = k->last.n;
    return n >= last && memcmp(end + n - last, k->last.at, last) == 0 ? (long)(n - last) : -1;
}

int tl_own_file_mark(const char *path)
{
    const struct kind *k = kind_of(path);
    char end[END];
    size_t n = 0;
    long from = 0, line = -1;
    FILE *f = k ? fopen(path, "r+be") : NULL;
    if (!f)
        return k ? TL_E_IO : TL_E_INPUT;
    errno = 0;
    bool good = read_end(f, end, &n, &from);
    if (good && (line = last_line(k, end, n)) >= 0)
        good = fseek(f, from + line, SEEK_SET) == 0 &&
               fwrite(k->mark.at, 1, k->mark.n, f) == k->mark.n &&
               fwrite(end + line, 1, n - (size_t)line, f) == n - (size_t)line;
    const int reason = errno;
    good = fclose(f) == 0 && good;
    if (!good && reason)
        errno = reason;
    return !good ? TL_E_IO : line < 0 ? TL_E_INPUT : TL_OK;
}

static bool has_page_mark(FILE *f)
{
    char head[HEAD + 1];
    head[fread(head, 1, HEAD, f)] = '\0';
    return strstr(head, "<meta name=\"" TL_OWN_PAGE_NAME "\" content=\"" TL_OWN_PAGE_MARK "\">");
}

static bool has_picture_mark(FILE *f, const struct kind *k)
{
    char end[END];
    size_t n = 0;
    long from = 0;
    const long line = read_end(f, end, &n, &from) ? last_line(k, end, n) : -1;
    const long mark = line - (long)k->mark.n;
    return mark >= 0 && memcmp(end + mark, k->mark.at, k->mark.n) == 0;
}

int tl_own_file_look(const char *path, bool *own)
{
    bool other;
    const struct kind *k = kind_of(path);
    *own = false;
    errno = 0;
    FILE *f = tl_posix_open_file(path, &other);
    if (!f)
        return other ? TL_OK : TL_E_IO;
    *own = k ? has_picture_mark(f, k) : has_page_mark(f);
    const int status = ferror(f) ? TL_E_IO : TL_OK;
    const int reason = errno;
    fclose(f);
    errno = reason;
    return status;
}
