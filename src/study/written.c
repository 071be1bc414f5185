/* Checksums of the files in a folder of results. */
#include "written.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "fingerprint.h"
#include "place.h"
#include "text.h"
#include "towerloop/status.h"

#define LARGEST (64u << 20)

/* Sixteen digits and a NUL. */
enum { SUM = 17 };

static int sum_of(const char *path, char sum[SUM])
{
    char *data = NULL;
    size_t length = 0;
    const int status = tl_read_plain_file(path, LARGEST, &data, &length);
    if (status == TL_OK)
        tl_format(sum, SUM, "%016" PRIx64, tl_fingerprint(TL_FINGERPRINT_START, data, length));
    free(data);
    return status;
}

int tl_written_add(json_t *written, const char *name, const char *path)
{
    char sum[SUM];
    if (tl_utf8_fault(name, strlen(name)) != strlen(name))
        return TL_OK;
    const int status = sum_of(path, sum);
    if (status != TL_OK)
        return status;
    return json_object_set_new(written, name, json_string(sum)) == 0 ? TL_OK : TL_E_MEMORY;
}

/* A file that has become too large, a folder or a device was changed as well. */
static int check_one(const char *path, const char *was, char *why, size_t size)
{
    char sum[SUM] = "";
    enum tl_posix_kind kind;
    int status = tl_posix_look(path, &kind);
    if (status == TL_OK && kind == TL_POSIX_NOTHING)
        return TL_OK;
    if (status == TL_OK)
        status = sum_of(path, sum);
    if (status == TL_E_MEMORY || (status == TL_OK && strcmp(sum, was) == 0))
        return status;
    if (status == TL_E_IO) {
        tl_format(why, size, "%s cannot be read: %s", path, strerror(errno));
        return status;
    }
    tl_format(
        why, size,
        "%s was changed after towerloop had written it, so it is left alone; move it away, or "
        "choose another folder with --out",
        path);
    return TL_E_REFUSED;
}

int tl_written_check(const char *folder, const json_t *results, char *why, size_t size)
{
    json_t *written = json_object_get(results, "written");
    const char *name;
    json_t *was;
    int status = TL_OK;
    json_object_foreach(written, name, was)
    {
        char *path = tl_place_below(folder, name);
        status = path && json_is_string(was) ? check_one(path, json_string_value(was), why, size)
                 : path                      ? TL_OK
                                             : TL_E_MEMORY;
        free(path);
        if (status != TL_OK)
            break;
    }
    return status;
}
