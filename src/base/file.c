/* Reading a whole file, never more than a bound. */
#include "text.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "posix.h"
#include "towerloop/status.h"

/* Closes the file. */
static int read_all(FILE *f, size_t max, char **out, size_t *length)
{
    int status = TL_E_IO;
    char *data = NULL;
    size_t n = 0;
    size_t capacity = 0;

    for (;;) {
        if (n == capacity) {
            capacity = capacity ? 2 * capacity : 4096;
            char *grown = realloc(data, capacity + 1);
            if (!grown) {
                status = TL_E_MEMORY;
                goto done;
            }
            data = grown;
        }
        size_t got = fread(data + n, 1, capacity - n, f);
        if (got == 0)
            break;
        n += got;
        if (n > max) {
            status = TL_E_INPUT;
            goto done;
        }
    }
    if (ferror(f))
        goto done;
    data[n] = '\0';
    *out = data;
    *length = n;
    data = NULL;
    status = TL_OK;

done:
    free(data);
    int reason = errno;
    fclose(f);
    errno = reason;
    return status;
}

int tl_read_file(const char *path, size_t max, char **out, size_t *length)
{
    errno = 0;
    FILE *f = fopen(path, "rb");
    if (!f)
        return errno == ENOMEM ? TL_E_MEMORY : TL_E_IO;
    return read_all(f, max, out, length);
}

/* `open` is one of those of posix.h. */
static int read_with(FILE *(*open)(const char *path, bool *other), const char *path, size_t max,
                     char **out, size_t *length)
{
    bool other;
    errno = 0;
    FILE *f = open(path, &other);
    if (f)
        return read_all(f, max, out, length);
    return other ? TL_E_REFUSED : errno == ENOMEM ? TL_E_MEMORY : TL_E_IO;
}

int tl_read_plain_file(const char *path, size_t max, char **out, size_t *length)
{
    return read_with(tl_posix_open_file, path, max, out, length);
}

int tl_read_input(const char *path, size_t max, char **out, size_t *length)
{
    return read_with(tl_posix_open_input, path, max, out, length);
}
