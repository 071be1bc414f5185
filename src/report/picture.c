/* Looks at a finished picture file before it is shown to anyone. */
#include "picture.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "towerloop/status.h"

#define LARGEST ((size_t)256 << 20)

static uint32_t big_endian(const char *p)
{
    const unsigned char *u = (const unsigned char *)p;
    return (uint32_t)u[0] << 24 | (uint32_t)u[1] << 16 | (uint32_t)u[2] << 8 | u[3];
}

static const char *png_fault(const char *data, size_t length)
{
    size_t at = 8, packed = 0;
    uint64_t raw;

    if (length < 33 || memcmp(data, "\x89PNG\r\n\x1a\n", 8) || memcmp(data + 12, "IHDR", 4))
        return "is not a PNG picture";
    /* colour types 0 grey, 2 RGB, 3 palette, 4 grey and alpha, 6 RGB and alpha */
    static const unsigned channels[] = {1, 0, 3, 1, 2, 0, 4};
    unsigned depth = (unsigned char)data[24], colour = (unsigned char)data[25];
    raw = (uint64_t)big_endian(data + 16) * big_endian(data + 20) *
          (colour < 7 ? channels[colour] : 0) * depth / 8;
    for (;;) {
        if (length - at < 12)
            return "is cut short";
        size_t chunk = big_endian(data + at);
        if (chunk > length - at - 12)
            return "is cut short";
        if (!memcmp(data + at + 4, "IDAT", 4))
            packed += chunk;
        at += chunk + 12;
        if (!memcmp(data + at - chunk - 8, "IEND", 4))
            break;
    }
    if (at != length)
        return "has something after its end";
    /* deflate packs at most 1032 to 1; one colour comes within twice of that, a chart never does */
    if (raw == 0 || packed < raw / 1032 * 5 / 2)
        return "is blank";
    return NULL;
}

static const char *text_fault(const char *data, size_t length, const char *begin, const char *end)
{
    size_t tail = strlen(end);

    if (memcmp(data, begin, length < strlen(begin) ? length : strlen(begin)))
        return "is not a picture";
    while (length && (data[length - 1] == '\n' || data[length - 1] == '\r'))
        length--;
    if (length < tail || memcmp(data + length - tail, end, tail))
        return "is cut short";
    return NULL;
}

bool tl_picture_whole(const char *path, char *why, size_t size)
{
    const char *dot = strrchr(path, '.'), *fault;
    size_t length = 0;
    char *data = NULL;

    const int status = tl_read_file(path, LARGEST, &data, &length);
    if (status == TL_E_MEMORY)
        fault = "could not be read: out of memory";
    else if (status || length == 0)
        fault = "was not written";
    else if (dot && !strcmp(dot, ".png"))
        fault = png_fault(data, length);
    else if (dot && !strcmp(dot, ".pdf"))
        fault = text_fault(data, length, "%PDF-", "%%EOF");
    else {
        fault = text_fault(data, length, "<?xml", "</svg>");
        if (!fault && !strstr(data, "<path"))
            fault = "is blank";
    }
    if (fault)
        snprintf(why, size, "%s", fault);
    free(data);
    return fault == NULL;
}

bool tl_same_bytes(const char *a, const char *b)
{
    size_t na = 0, nb = 0;
    char *da = NULL, *db = NULL;
    bool same = !tl_read_file(a, LARGEST, &da, &na) && !tl_read_file(b, LARGEST, &db, &nb) &&
                na == nb && !memcmp(da, db, na);

    free(da);
    free(db);
    return same;
}
