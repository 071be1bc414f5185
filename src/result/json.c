/* What the program's JSON files have in common. */
#include "json.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "atomic_file.h"
#include "text.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

json_t *tl_json_number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

void tl_json_put(json_t **object, const char *key, json_t *value)
{
    if (!*object)
        json_decref(value);
    else if (json_object_set_new(*object, key, value) != 0) { /* so too where the value is NULL */
        json_decref(*object);
        *object = NULL;
    }
}

void tl_json_append(json_t **array, json_t *value)
{
    if (!*array)
        json_decref(value);
    else if (json_array_append_new(*array, value) != 0) {
        json_decref(*array);
        *array = NULL;
    }
}

json_t *tl_json_texts(const char *const *text, size_t n)
{
    json_t *array = json_array();
    for (size_t i = 0; i < n; i++)
        tl_json_append(&array, json_string(text[i]));
    return array;
}

json_t *tl_json_build(void)
{
    struct tl_build b;
    tl_build_info(&b);
    return json_pack("{s:s, s:s, s:s, s:s}", "commit", b.commit, "compiler", b.compiler, "gsl",
                     b.gsl, "dispatch", b.dispatch);
}

json_t *tl_json_result(int format, json_t *content)
{
    struct tl_build b;
    tl_build_info(&b);
    json_t *root = content ? json_pack("{s:i, s:s, s:o}", "format", format, "version", b.version,
                                       "build", tl_json_build())
                           : NULL;
    if (root && json_object_update(root, content)) {
        json_decref(root);
        root = NULL;
    }
    json_decref(content);
    return root;
}

/* The largest that is written: the trials of a sizing are some kB each. */
#define LARGEST ((size_t)16 << 20)

json_t *tl_json_read(const char *path)
{
    char *text = NULL;
    size_t length = 0;
    json_error_t error = {.text = ""};
    errno = 0;
    const int status = tl_read_plain_file(path, LARGEST, &text, &length);
    if (status != TL_OK) {
        errno = status == TL_E_MEMORY ? ENOMEM : errno;
        return NULL;
    }
    json_t *root = json_loadb(text, length, 0, &error);
    free(text);
    /* the parser has words for every fault of a text */
    errno = !root && (*error.text == '\0' || json_error_code(&error) == json_error_out_of_memory)
                ? ENOMEM
                : 0;
    return root;
}

static int write_whole(const json_t *root, const char *path, size_t flags)
{
    struct tl_atomic_file file;
    int status = root ? tl_atomic_open(&file, path) : TL_E_MEMORY;
    if (status)
        return status;
    errno = 0;
    if (json_dumpf(root, file.f, flags) == 0) {
        fputc('\n', file.f);
        return tl_atomic_commit(&file);
    }
    const int reason = errno;
    tl_atomic_abort(&file);
    errno = reason;
    return reason == ENOMEM ? TL_E_MEMORY : TL_E_IO;
}

int tl_json_write(json_t *root, const char *path, size_t flags)
{
    const int status = write_whole(root, path, flags);
    const int reason = errno;
    json_decref(root);
    errno = reason;
    return status;
}
