/* A scenario as a value: defaults, deep copy, release. */
#include "towerloop/scenario.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "reader.h"
#include "towerloop/status.h"

void tl_draft_default(struct tl_draft *d)
{
    *d = (struct tl_draft){
        .s = {.start = {.year = 2027, .month = 5, .day = 1}, .report_every_d = 15.0 / 1440},
    };
    d->s.costs = (struct tl_costs){"", NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    d->s.building = (struct tl_building){.bulk_density_kg_m3 = NAN, /* as the media */
                                         .water_held = NAN,         /* likewise */
                                         .tray_mass_g = 2000};
    tl_setup_default(&d->s.setup);
    d->s.setup.tower.biofilm_assumed = true;
    tl_limits_default(&d->s.limits);
}

static int copy_text(char **to, const char *from)
{
    *to = from ? strdup(from) : NULL;
    return from && !*to ? TL_E_MEMORY : TL_OK;
}

static int copy_variants(struct tl_scenario *to, const struct tl_scenario *from)
{
    to->variants = 0;
    to->variant = calloc(from->variants + 1, sizeof *to->variant);
    for (size_t i = 0; to->variant && i < from->variants; i++) {
        const struct tl_variant *v = &from->variant[i];
        struct tl_variant *w = &to->variant[to->variants++];
        *w = *v;
        w->sets = 0;
        w->set = calloc(v->sets + 1, sizeof *w->set);
        for (size_t k = 0; w->set && k < v->sets; k++, w->sets++)
            if (copy_text(&w->set[k], v->set[k]))
                return TL_E_MEMORY;
        if (!w->set)
            return TL_E_MEMORY;
    }
    return to->variant ? TL_OK : TL_E_MEMORY;
}

static int copy_spread(struct tl_scenario *to, const struct tl_scenario *from)
{
    to->spread = NULL;
    if (from->spreads == 0)
        return TL_OK;
    to->spread = calloc(from->spreads, sizeof *to->spread);
    if (!to->spread)
        return TL_E_MEMORY;
    memcpy(to->spread, from->spread, from->spreads * sizeof *to->spread);
    return TL_OK;
}

const char *tl_scenario_input_name(const struct tl_scenario *s, enum tl_input which)
{
    const char *name = s->input[which];
    const char *slash = name ? strrchr(name, '/') : NULL;
    return slash ? slash + 1 : name;
}

char *tl_scenario_input_path(const struct tl_scenario *s, enum tl_input which)
{
    const char *name = s->input[which];
    const char *slash = s->path ? strrchr(s->path, '/') : NULL;
    struct tl_text path = {0};
    if (!name)
        return NULL;
    if (*name != '/' && slash)
        tl_text_add_bytes(&path, s->path, (size_t)(slash + 1 - s->path));
    tl_text_add(&path, name);
    if (path.failed)
        tl_text_free(&path);
    return path.data;
}

int tl_scenario_copy(struct tl_scenario *to, const struct tl_scenario *from)
{
    *to = *from;
    int status = copy_text(&to->path, from->path);
    int title = copy_text(&to->title, from->title);
    int input = TL_OK;
    for (size_t i = 0; i < TL_NINPUT; i++)
        if (copy_text(&to->input[i], from->input[i]))
            input = TL_E_MEMORY;
    int setup = tl_setup_copy(&to->setup, &from->setup);
    int variants = copy_variants(to, from);
    int spread = copy_spread(to, from);
    if (spread || status || title || input || setup || variants) {
        tl_scenario_free(to);
        status = TL_E_MEMORY;
    }
    return status;
}

void tl_scenario_free(struct tl_scenario *s)
{
    free(s->path);
    free(s->title);
    for (size_t i = 0; i < TL_NINPUT; i++)
        free(s->input[i]);
    tl_setup_free(&s->setup);
    for (size_t i = 0; i < s->variants; i++) {
        for (size_t k = 0; k < s->variant[i].sets; k++)
            free(s->variant[i].set[k]);
        free(s->variant[i].set);
    }
    free(s->variant);
    free(s->spread);
    *s = (struct tl_scenario){0};
}
