/* The table of media as text and as JSON: what trays can be filled with. */
#include <stdio.h>

#include "answer.h"
#include "json.h"
#include "key_pages.h"
#include "page.h"
#include "towerloop/media.h"
#include "towerloop/units.h"

#define CELL_SIZE  24
#define MOST_LINES 6

static const enum tl_dim dim_of[TL_NMEDIA_FIGURE] = {
    [TL_MEDIA_SURFACE] = TL_DIM_SPECIFIC_SURFACE, [TL_MEDIA_SIZE] = TL_DIM_LENGTH,
    [TL_MEDIA_VOIDS] = TL_DIM_FRACTION,           [TL_MEDIA_SIGMA] = TL_DIM_SURFACE_TENSION,
    [TL_MEDIA_DENSITY] = TL_DIM_BULK_DENSITY,     [TL_MEDIA_HELD] = TL_DIM_FRACTION,
};

static void say(const char *text)
{
    struct tl_page page = {.lines = 0};
    struct tl_text t = {0};
    tl_text_add(&t, text);
    tl_page_put(&page, MOST_LINES, 2, &t);
    tl_answer_page(stdout, &page);
}

static int width(int figure)
{
    return figure == TL_MEDIA_SIZE ? 9 : 8;
}

/* A size says its own unit, mm or in; the others stand in the head. */
static void print_row(const struct tl_media *m, enum tl_unit_system units)
{
    printf("%-16s", m->name);
    for (int i = 0; i < TL_NMEDIA_FIGURE; i++) {
        char number[CELL_SIZE];
        if (i == TL_MEDIA_SIZE)
            tl_display_text(dim_of[i], units, m->value[i], 3, number, sizeof number);
        else
            tl_format(number, sizeof number, "%.4g",
                      tl_display_value(dim_of[i], units, m->value[i]));
        printf("%*s %c", width(i), number, m->status[i][0]);
    }
    printf("\n    %s\n", m->what);
}

void tl_media_print(enum tl_unit_system units)
{
    static const char *const head[TL_NMEDIA_FIGURE] = {"surface", "size", "voids",
                                                       "wetting", "dry",  "water"};
    printf("\n%-16s", "Media");
    for (int i = 0; i < TL_NMEDIA_FIGURE; i++)
        printf("%*s%s", width(i), head[i], i + 1 < TL_NMEDIA_FIGURE ? "  " : "\n");
    printf("%-16s", "");
    for (int i = 0; i < TL_NMEDIA_FIGURE; i++)
        printf("%*s%s", width(i), i == TL_MEDIA_SIZE ? "" : tl_display_unit(dim_of[i], units),
               i + 1 < TL_NMEDIA_FIGURE ? "  " : "\n");
    for (size_t i = 0; i < tl_media_count(); i++)
        print_row(tl_media_at(i), units);
    say("surface, size and voids of the bed; wetting: critical surface tension of the material; "
        "dry: "
        "mass of the bed; water: held while it runs. p published, m from memory, j judgement. Each "
        "can be overridden by its own key. There are no prices: give yours as costs.media.");
}

json_t *tl_media_json(void)
{
    static const char *const shape[] = {
        [TL_MEDIA_SOLID] = "solid", [TL_MEDIA_WALLED] = "walled", [TL_MEDIA_THREAD] = "thread"};
    json_t *array = json_array();
    for (size_t i = 0; i < tl_media_count(); i++) {
        const struct tl_media *m = tl_media_at(i);
        json_t *figures = json_array();
        for (int f = 0; f < TL_NMEDIA_FIGURE; f++) {
            const enum tl_media_figure id = (enum tl_media_figure)f;
            tl_json_append(&figures,
                           json_pack("{s:s, s:s, s:f, s:s, s:s}", "key", tl_media_figure_key(id),
                                     "meaning", tl_media_figure_what(id), "value", m->value[f],
                                     "unit", tl_dim_base_unit(dim_of[f]), "status", m->status[f]));
        }
        tl_json_append(&array, json_pack("{s:s, s:s, s:s, s:o}", "name", m->name, "meaning",
                                         m->what, "shape", shape[m->shape], "figures", figures));
    }
    return array;
}
