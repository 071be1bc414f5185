/* What the program's JSON files have in common. */
#include "json.h"

#include <errno.h>
#include <math.h>

#include "atomic_file.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

json_t *tl_json_number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

json_t *tl_json_texts(const char *const *text, size_t n)
{
    json_t *array = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(array, json_string(text[i]));
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

static int write_whole(const json_t *root, const char *path, size_t flags)
{
    struct tl_atomic_file file;
    int status = root ? tl_atomic_open(&file, path) : TL_E_MEMORY;
    if (status)
        return status;
    if (json_dumpf(root, file.f, flags) == 0) {
        fputc('\n', file.f);
        return tl_atomic_commit(&file);
    }
    const int reason = errno;
    tl_atomic_abort(&file);
    errno = reason;
    return TL_E_IO;
}

int tl_json_write(json_t *root, const char *path, size_t flags)
{
    const int status = write_whole(root, path, flags);
    const int reason = errno;
    json_decref(root);
    errno = reason;
    return status;
}
