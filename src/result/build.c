/* What made the program, for the record in summary.json. */
#include <gsl/gsl_version.h>
#include <string.h>

#include "build_info.h"
#include "towerloop/summary.h"

#ifdef __clang__
#define COMPILER "clang " __clang_version__
#else
#define COMPILER "gcc " __VERSION__
#endif

/* Lanes of the run, then the features by which the C library picks its exp, log and pow, whose last
 * digits differ. */
static const char *dispatch(const char *level)
{
    enum { FMA512, FMA, BASELINE, ARM, GENERIC, FEATURES };
#define AT_LEVEL(level)                                                                            \
    {                                                                                              \
        level,                                                                                     \
        {                                                                                          \
            [FMA512] = (level ", x86 avx512f fma"), [FMA] = (level ", x86 fma"),                   \
            [BASELINE] = (level ", x86 baseline"), [ARM] = (level ", aarch64"),                    \
            [GENERIC] = (level ", generic")                                                        \
        }                                                                                          \
    }
    static const struct {
        const char *level, *text[FEATURES];
    } table[] = {AT_LEVEL("scalar"), AT_LEVEL("baseline"), AT_LEVEL("avx2"), AT_LEVEL("avx512")};
#undef AT_LEVEL
    int features = GENERIC;
#if defined(__x86_64__) || defined(__i386__)
    __builtin_cpu_init();
    features = BASELINE;
    if (__builtin_cpu_supports("fma"))
        features = __builtin_cpu_supports("avx512f") ? FMA512 : FMA;
#elif defined(__aarch64__)
    features = ARM;
#endif
    size_t i = sizeof table / sizeof table[0] - 1;
    while (i > 0 && strcmp(table[i].level, level) != 0)
        i--;
    return table[i].text[features];
}

void tl_build_info(struct tl_build *b)
{
    tl_build_info_at(b, "scalar");
}

void tl_build_info_at(struct tl_build *b, const char *level)
{
    b->version = TL_VERSION;
    b->commit = TL_COMMIT;
    b->compiler = COMPILER;
    b->gsl = gsl_version;
    b->dispatch = dispatch(level);
}
