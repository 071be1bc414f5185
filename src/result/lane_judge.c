/* The levels of lanes that judges were compiled for. */
#include "lane_judge.h"

#include <string.h>

const struct tl_lane_judge_level *tl_lane_judge_level(const char *name)
{
    static const struct tl_lane_judge_level *const level[] = {
        &tl_judges_baseline,
#ifdef __x86_64__
        &tl_judges_avx2,
        &tl_judges_avx512,
#endif
    };
    for (size_t i = 0; i < sizeof level / sizeof level[0]; i++)
        if (strcmp(level[i]->name, name) == 0)
            return level[i];
    return NULL;
}
