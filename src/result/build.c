/* What made the program, for the record in summary.json. */
#include <gsl/gsl_version.h>

#include "build_info.h"
#include "towerloop/summary.h"

#ifdef __clang__
#define COMPILER "clang " __clang_version__
#else
#define COMPILER "gcc " __VERSION__
#endif

/* The C library picks its exp, log and pow by these features, and their last digits differ. */
static const char *dispatch(void)
{
#if defined(__x86_64__) || defined(__i386__)
    __builtin_cpu_init();
    if (__builtin_cpu_supports("fma"))
        return __builtin_cpu_supports("avx512f") ? "x86 avx512f fma" : "x86 fma";
    return "x86 baseline";
#elif defined(__aarch64__)
    return "aarch64";
#else
    return "generic";
#endif
}

void tl_build_info(struct tl_build *b)
{
    b->version = TL_VERSION;
    b->commit = TL_COMMIT;
    b->compiler = COMPILER;
    b->gsl = gsl_version;
    b->dispatch = dispatch();
}
