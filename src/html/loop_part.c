/* The loop as a drawing of our own: where the water goes, what it carries, what the ledger books where.
 * Coordinates are those of the picture, 1000 wide. */
#include <math.h>
#include <stdlib.h>

#include "document.h"
#include "loop_state.h"
#include "parts.h"
#include "place.h"
#include "text.h"
#include "towerloop/status.h"

enum { WIDTH = 1000, HEIGHT = 611, LINE = 21, MOST_SLABS = 16, MEDIA_BYTES = 24 };

struct scene {
    struct tl_html *h;
    const struct tl_run_data *d;
    const struct tl_setup *s;
    struct tl_loop_state state;
    enum tl_unit_system units;
};

/* --- strokes ------------------------------------------------------------------------------------ */

static void shape(struct scene *c, const char *class_name, int x, int y, int width, int height)
{
    tl_html_open(c->h, "rect");
    tl_html_attribute(c->h, "class", class_name);
    tl_html_attributef(c->h, "x", "%d", x);
    tl_html_attributef(c->h, "y", "%d", y);
    tl_html_attributef(c->h, "width", "%d", width);
    tl_html_attributef(c->h, "height", "%d", height);
    tl_html_attribute(c->h, "rx", "4");
    tl_html_close(c->h);
}

/* A pipe through the points of `path`, with a head at its end that points along (dx, dy). */
static void pipe_to(struct scene *c, bool flows, const char *path, int x, int y, int dx, int dy)
{
    tl_html_open(c->h, "path");
    tl_html_attribute(c->h, "class", flows ? "pipe" : "pipe still");
    tl_html_attribute(c->h, "d", path);
    tl_html_close(c->h);
    tl_html_open(c->h, "path");
    tl_html_attribute(c->h, "class", "head");
    tl_html_attributef(c->h, "d", "M%d %d L%d %d L%d %d Z", x, y, x - 13 * dx - 8 * dy,
                       y - 13 * dy - 8 * dx, x - 13 * dx + 8 * dy, y - 13 * dy + 8 * dx);
    tl_html_close(c->h);
}

/* A line of text; *y moves to the next one. */
static void words(struct scene *c, const char *class_name, int x, int *y, const char *text)
{
    tl_html_open(c->h, "text");
    tl_html_attribute(c->h, "class", class_name);
    tl_html_attributef(c->h, "x", "%d", x);
    tl_html_attributef(c->h, "y", "%d", *y);
    tl_html_text(c->h, text);
    tl_html_close(c->h);
    *y += LINE;
}

static void wordsf(struct scene *c, const char *class_name, int x, int *y, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

static void wordsf(struct scene *c, const char *class_name, int x, int *y, const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    words(c, class_name, x, y, tl_text_string(&t));
    c->h->out.failed = c->h->out.failed || t.failed;
    tl_text_free(&t);
}

#define HEAVY_G 10000

/* "Nitrogen in: 1030 g", "12.8 kg" */
static void booked(struct scene *c, const char *class_name, int x, int *y, const char *what,
                   double amount_g)
{
    if (isnan(amount_g))
        return;
    const bool heavy = fabs(amount_g) >= HEAVY_G;
    wordsf(c, class_name, x, y, "%s: %s %s", what,
           tl_figure_of(heavy ? amount_g / 1000 : amount_g).text, heavy ? "kg" : "g");
}

static double ledger(const struct scene *c, const char *account_side, const char *key)
{
    char path[96];
    tl_format(path, sizeof path, "ledger.%s.%s", account_side, key);
    return tl_run_data_number(c->d, path);
}

static void draw_legend(struct scene *c)
{
    int y = 46;
    words(c, "name", 20, &y, "How to read it");
    words(c, "", 20, &y, "Arrows: where the water goes, and what is brought in.");
    words(c, "", 20, &y, "Dashed: it does not flow.");
    words(c, "n", 20, &y, "Nitrogen, over the whole run");
    words(c, "o", 20, &y, "Oxygen, over the whole run");
}

/* --- the parts of the loop ------------------------------------------------------------------------ */

static void draw_source(struct scene *c)
{
    int y = 326;
    const double trickle_m3_d = c->s->trickle_1_d * c->s->tank.volume_m3;
    shape(c, "air", 14, 300, 212, 102);
    words(c, "name", 26, &y, "Source water");
    if (trickle_m3_d > 0)
        wordsf(c, "", 26, &y, "%s a day",
               tl_figure_with_unit(TL_DIM_VOLUME, c->units, trickle_m3_d).text);
    booked(c, "n", 26, &y, "Nitrogen in", ledger(c, "nitrogen.in", "source_water"));
    booked(c, "o", 26, &y, "Oxygen in", ledger(c, "oxygen.in", "source_water"));
    pipe_to(c, trickle_m3_d > 0, "M226 348 H252", 264, 348, 1, 0);
}

static void draw_overflow(struct scene *c)
{
    int y = 476;
    shape(c, "air", 14, 446, 212, 82);
    words(c, "name", 26, &y, "Overflow");
    booked(c, "n", 26, &y, "Nitrogen out", ledger(c, "nitrogen.out", "water"));
    booked(c, "o", 26, &y, "Oxygen out", ledger(c, "oxygen.out", "water"));
    pipe_to(c, c->s->trickle_1_d > 0, "M264 488 H238", 226, 488, -1, 0);
}

static void draw_feed(struct scene *c)
{
    int y = 176;
    shape(c, "air", 216, 150, 176, 82);
    words(c, "name", 228, &y, "Feed and fish");
    wordsf(c, "", 228, &y, "%s of fish",
           tl_figure_with_unit(TL_DIM_MASS, c->units, 1000 * c->state.fish_kg).text);
    booked(c, "n", 228, &y, "Nitrogen in", ledger(c, "nitrogen.in", "feed"));
    pipe_to(c, c->state.fish_kg > 0, "M318 232 V288", 318, 300, 0, 1);
}

static void draw_air(struct scene *c)
{
    int y = 176;
    shape(c, "air", 404, 150, 200, 82);
    words(c, "name", 416, &y, c->s->aerator_g_d > 0 ? "Air and aerator" : "Air");
    booked(c, "o", 416, &y, "Oxygen, surface", ledger(c, "oxygen.in", "tank_surface"));
    if (c->s->aerator_g_d > 0)
        booked(c, "o", 416, &y, "Oxygen, aerator", ledger(c, "oxygen.in", "aerator"));
    pipe_to(c, true, "M504 232 V288", 504, 300, 0, 1);
}

static void draw_tank(struct scene *c)
{
    const struct tl_loop_state *s = &c->state;
    int y = 326;
    shape(c, "water", 264, 300, 324, 297);
    wordsf(c, "name", 278, &y, "Tank, %s",
           tl_figure_with_unit(TL_DIM_VOLUME, c->units, c->s->tank.volume_m3).text);
    wordsf(c, "", 278, &y, "total ammonia %s mg/L as N", tl_figure_of(s->tank_tan).text);
    wordsf(c, "", 278, &y, "un-ionised ammonia %s mg/L as N", tl_figure_of(s->tank_nh3).text);
    wordsf(c, "", 278, &y, "nitrite %s mg/L as N", tl_figure_of(s->tank_no2).text);
    wordsf(c, "", 278, &y, "nitrate %s mg/L as N", tl_figure_of(s->tank_no3).text);
    wordsf(c, "", 278, &y, "oxygen %s mg/L, %s %% of full", tl_figure_of(s->tank_o2).text,
           tl_figure_of(s->tank_o2_pct).text);
    wordsf(c, "", 278, &y, "pH %s, water %s", tl_figure_of(s->tank_ph).text,
           tl_figure_with_unit(TL_DIM_TEMPERATURE, c->units, s->temperature_degC).text);
    wordsf(c, "", 278, &y, "alkalinity %s mg/L as CaCO3", tl_figure_of(s->tank_alkalinity).text);
    booked(c, "o", 278, &y, "Oxygen used by fish", ledger(c, "oxygen.out", "fish"));
    booked(c, "o", 278, &y, "by nitrifiers, everywhere", ledger(c, "oxygen.out", "nitrifiers"));
    booked(c, "o", 278, &y, "by other bacteria", ledger(c, "oxygen.out", "heterotrophs"));
    booked(c, "n", 278, &y, "Nitrogen more in store", ledger(c, "nitrogen", "stored"));
    booked(c, "n", 278, &y, "Nitrogen gone as gas", ledger(c, "nitrogen.out", "nitrogen_gas"));
}

static void draw_chamber(struct scene *c)
{
    int y = 456;
    shape(c, "water", 624, 430, 212, 124);
    words(c, "name", 636, &y, "Settling chamber");
    wordsf(c, "", 636, &y, "%s",
           tl_figure_with_unit(TL_DIM_VOLUME, c->units, c->s->chamber.volume_m3).text);
    wordsf(c, "", 636, &y, "oxygen %s mg/L", tl_figure_of(c->state.chamber_o2).text);
    booked(c, "o", 636, &y, "Oxygen, sludge", ledger(c, "oxygen.out", "sludge"));
    booked(c, "n", 636, &y, "Nitrogen, sludge", ledger(c, "nitrogen.stored_in", "sludge"));
}

static void draw_pump(struct scene *c)
{
    int y = 546;
    const bool runs = c->state.flow_m3_h > 0;
    pipe_to(c, runs, "M588 500 H612", 624, 500, 1, 0);
    pipe_to(c, runs, "M836 488 H852", 864, 488, 1, 0);
    tl_html_open(c->h, "circle");
    tl_html_attribute(c->h, "class", "water");
    tl_html_attribute(c->h, "cx", "890");
    tl_html_attribute(c->h, "cy", "488");
    tl_html_attribute(c->h, "r", "26");
    tl_html_close(c->h);
    wordsf(c, "name", 840, &y, "Pump%s", runs ? "" : ", off");
    wordsf(c, "", 840, &y, "%s",
           tl_figure_with_unit(TL_DIM_FLOW, c->units, 24 * c->state.flow_m3_h).text);
    pipe_to(c, runs && c->s->to_tower > 0, "M916 488 H972 V24 H890 V40", 890, 52, 0, 1);
}

static void draw_tower(struct scene *c)
{
    const struct tl_tower *t = &c->s->tower;
    const bool wet = !isnan(c->state.out_o2);
    const int slabs = t->trays < MOST_SLABS ? t->trays : MOST_SLABS;
    const int step = 310 / slabs;
    int y = 78;
    for (int i = 0; i < slabs; i++)
        shape(c, "media", 832, 58 + i * step, 116, step - 4 > 3 ? step - 4 : 3);
    wordsf(c, "name", 640, &y, "Tower, %d tray%s", t->trays, t->trays > 1 ? "s" : "");
    tl_html_open(c->h, "text");
    tl_html_attribute(c->h, "x", "640");
    tl_html_attributef(c->h, "y", "%d", y);
    tl_html_bytes(c->h, t->media, tl_utf8_cut(t->media, MEDIA_BYTES));
    tl_html_close(c->h);
    y += LINE;
    if (wet) {
        words(c, "", 640, &y, "water that leaves it:");
        wordsf(c, "", 640, &y, "ammonia %s mg/L", tl_figure_of(c->state.out_tan).text);
        wordsf(c, "", 640, &y, "nitrite %s mg/L", tl_figure_of(c->state.out_no2).text);
        wordsf(c, "", 640, &y, "oxygen %s mg/L", tl_figure_of(c->state.out_o2).text);
    } else {
        words(c, "", 640, &y, "no water on it");
    }
    booked(c, "o", 640, &y, "Oxygen in", ledger(c, "oxygen.in", "tower"));
    words(c, "n", 640, &y, "Ammonia oxidised,");
    booked(c, "n", 640, &y, "nitrogen", ledger(c, "nitrogen.notes", "oxidised_tower"));
    if (c->s->to_tower < 1)
        wordsf(c, "", 640, &y, "%s %% of the flow", tl_figure_of(100 * c->s->to_tower).text);
    pipe_to(c, wet, "M890 368 V400 H600", 588, 400, -1, 0);
}

/* --- the figure ----------------------------------------------------------------------------------- */

static void draw(struct scene *c)
{
    tl_html_open(c->h, "svg");
    tl_html_attribute(c->h, "xmlns", "http://www.w3.org/2000/svg");
    tl_html_attributef(c->h, "viewBox", "0 0 %d %d", WIDTH, HEIGHT);
    tl_html_attribute(c->h, "role", "img");
    tl_html_attribute(c->h, "aria-labelledby", "loop-title loop-desc");
    tl_html_open(c->h, "title");
    tl_html_attribute(c->h, "id", "loop-title");
    tl_html_text(c->h, "The loop: tank, settling chamber, pump, tower");
    tl_html_close(c->h);
    tl_html_open(c->h, "desc");
    tl_html_attribute(c->h, "id", "loop-desc");
    tl_html_textf(c->h,
                  "Water runs from the tank to the settling chamber, to the pump, up to the tower "
                  "and back to the tank. In the tank: total ammonia %s and nitrite %s mg/L as N, "
                  "oxygen %s mg/L. Behind the tower: ammonia %s, nitrite %s, oxygen %s. The ledger "
                  "below has all sums.",
                  tl_figure_of(c->state.tank_tan).text, tl_figure_of(c->state.tank_no2).text,
                  tl_figure_of(c->state.tank_o2).text, tl_figure_of(c->state.out_tan).text,
                  tl_figure_of(c->state.out_no2).text, tl_figure_of(c->state.out_o2).text);
    tl_html_close(c->h);
    draw_legend(c);
    draw_source(c);
    draw_overflow(c);
    draw_feed(c);
    draw_air(c);
    draw_tank(c);
    draw_chamber(c);
    draw_tower(c);
    draw_pump(c);
    tl_html_close(c->h);
}

int tl_part_loop(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size)
{
    char *series = tl_place_below(d->report->folder, "series.csv");
    struct scene c = {.h = h, .d = d, .s = &d->report->scenario->setup, .units = d->report->units};
    int status = series ? tl_loop_state_read(series, d->report->interrupted, &c.state, why, size)
                        : TL_E_MEMORY;
    free(series);
    if (status != TL_OK)
        return status;
    tl_html_open(h, "figure");
    tl_html_open(h, "div");
    tl_html_attribute(h, "class", "plate loop");
    tl_html_attribute(h, "role", "group");
    tl_html_attribute(h, "tabindex", "0");
    tl_html_attribute(h, "aria-label", "Drawing of the loop");
    draw(&c);
    tl_html_close(h);
    tl_html_element(h, "figcaption",
                    "Concentrations, flow and fish are means of the last day of the run. Nitrogen "
                    "and oxygen are sums over the whole run.");
    tl_html_close(h);
    return TL_OK;
}
