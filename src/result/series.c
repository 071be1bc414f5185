/* Writes series.csv. The cells of a body of water are rows of one table: name and how to get the
 * value, so the header and the rows cannot drift apart. */
#include "towerloop/series.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "atomic_file.h"
#include "derived.h"
#include "number.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

/* Room for the two columns of time: a whole number of days may take 310 digits. */
#define TIME_SIZE 400
/* Written to disk in pieces of this size. */
#define BUFFER_SIZE 65536

struct tl_series {
    struct tl_atomic_file file;
    struct tl_date start;
    size_t cells;
    double *cell; /* of one row */
    char *line;   /* the same as text: a row is one fwrite */
    char buffer[BUFFER_SIZE];
};

/* A body of water at one instant. */
struct body {
    const double *water;
    double ph, temperature_degC, pressure_atm;
    const struct tl_carbonate *constants;
};

static double nh3(const struct body *b)
{
    return b->water[TL_TAN] * tl_nh3_fraction(b->temperature_degC, b->ph);
}

static double o2_percent(const struct body *b)
{
    double salinity = tl_salinity_g_kg(fmax(0.0, b->water[TL_CL]));
    return 100.0 * b->water[TL_O2] /
           tl_o2_saturation(b->temperature_degC, salinity, b->pressure_atm);
}

static double ph(const struct body *b)
{
    return b->ph;
}

static double alkalinity(const struct body *b)
{
    return b->water[TL_ALK] * TL_CACO3_G_PER_EQ;
}

static double co2(const struct body *b)
{
    return TL_CO2_G_PER_MOL * tl_co2_mol_m3(b->constants, pow(10.0, -b->ph), b->water[TL_TIC]);
}

static double solids(const struct body *b)
{
    return b->water[TL_XS] + b->water[TL_XI];
}

static const struct {
    const char *name;
    double (*get)(const struct body *b); /* NULL: the component itself */
    enum tl_water_component component;
} body_columns[] = {
    {"tan_mgN_L", NULL, TL_TAN},
    {"nh3_mgN_L", nh3, 0},
    {"no2_mgN_L", NULL, TL_NO2},
    {"no3_mgN_L", NULL, TL_NO3},
    {"o2_mg_L", NULL, TL_O2},
    {"o2_sat_pct", o2_percent, 0},
    {"ph", ph, 0},
    {"alkalinity_mgCaCO3_L", alkalinity, 0},
    {"co2_mg_L", co2, 0},
    {"dissolved_organics_mgCOD_L", NULL, TL_SS},
    {"solids_mgCOD_L", solids, 0},
    {"chloride_mg_L", NULL, TL_CL},
    {"chlorine_mgCl2_L", NULL, TL_HOCL},
};
enum { BODY_COLUMNS = sizeof body_columns / sizeof *body_columns };

/* In the order of enum tl_film_component. */
static const char *const film_columns[TL_NFILM] = {
    "aob_gCOD_m2", "nob_gCOD_m2", "het_gCOD_m2", "trapped_gCOD_m2", "inert_gCOD_m2",
};

static const char *const body_names[] = {"tank", "chamber", "tower_out"};
static const char *const wall_names[] = {"tank_wall", "chamber_wall"};
static const char *const tail_names[] = {
    "chamber_sludge_gCOD",  "fish_kg",         "feed_g_d",
    "air_temperature_degC", "evaporation_L_d", "excreted_tan_gN_d"};
/* Of the water leaving each tray, and of the tray. */
static const char *const bed_columns[] = {"o2_mg_L", "film_without_oxygen_pct", "tan_mgN_L",
                                          "no2_mgN_L"};
enum {
    BODIES = sizeof body_names / sizeof *body_names,
    WALLS = sizeof wall_names / sizeof *wall_names,
    TAIL_COLUMNS = sizeof tail_names / sizeof *tail_names,
    TRAY_COLUMNS = TL_NFILM + 1,
    BED_COLUMNS = sizeof bed_columns / sizeof *bed_columns,
};

/* --- columns ------------------------------------------------------------------------------------ */

struct tl_series_shape tl_series_shape_of(const struct tl_snapshot *row)
{
    return (struct tl_series_shape){row->trays, row->sunny, row->green};
}

size_t tl_series_columns(struct tl_series_shape shape)
{
    const size_t trays = (size_t)shape.trays;
    return 1 + BODIES * BODY_COLUMNS + 2 + trays * TRAY_COLUMNS + WALLS * TL_NFILM + TAIL_COLUMNS +
           (shape.sunny ? trays : 0) + (shape.green ? 1 : 0) + trays * BED_COLUMNS;
}

void tl_series_column_name(struct tl_series_shape shape, size_t column, char *name, size_t size)
{
    const size_t trays = (size_t)shape.trays;
    size_t c = column;
    *name = '\0';
    if (c == 0) {
        snprintf(name, size, "time_d");
        return;
    }
    c -= 1;
    if (c < BODIES * BODY_COLUMNS) {
        snprintf(name, size, "%s_%s", body_names[c / BODY_COLUMNS],
                 body_columns[c % BODY_COLUMNS].name);
        return;
    }
    c -= BODIES * BODY_COLUMNS;
    if (c < 2) {
        snprintf(name, size, "%s", c == 0 ? "temperature_degC" : "flow_m3_h");
        return;
    }
    c -= 2;
    if (c < trays * TRAY_COLUMNS) {
        const size_t part = c % TRAY_COLUMNS;
        snprintf(name, size, "tray%02zu_%s", 1 + c / TRAY_COLUMNS,
                 part < TL_NFILM ? film_columns[part] : "voids_filled_pct");
        return;
    }
    c -= trays * TRAY_COLUMNS;
    if (c < WALLS * TL_NFILM) {
        snprintf(name, size, "%s_%s", wall_names[c / TL_NFILM], film_columns[c % TL_NFILM]);
        return;
    }
    c -= WALLS * TL_NFILM;
    if (c < TAIL_COLUMNS) {
        snprintf(name, size, "%s", tail_names[c]);
        return;
    }
    c -= TAIL_COLUMNS;
    if (c < trays * BED_COLUMNS) {
        snprintf(name, size, "tray%02zu_%s", 1 + c / BED_COLUMNS, bed_columns[c % BED_COLUMNS]);
        return;
    }
    c -= trays * BED_COLUMNS;
    if (shape.sunny && c < trays)
        snprintf(name, size, "tray%02zu_algae_cover_pct", 1 + c);
    else if (shape.green && c == (shape.sunny ? trays : 0))
        snprintf(name, size, "tank_algae_mgCOD_L");
}

static double *add_body(double *cell, const struct body *b)
{
    for (int c = 0; c < BODY_COLUMNS; c++) {
        double value =
            body_columns[c].get ? body_columns[c].get(b) : b->water[body_columns[c].component];
        /* the solver's tolerance may leave a trace below zero; only alkalinity can really be */
        if (value < 0 && body_columns[c].get != alkalinity)
            value = 0;
        *cell++ = value;
    }
    return cell;
}

static double *add_film(double *cell, const double film[TL_NFILM])
{
    for (int c = 0; c < TL_NFILM; c++)
        *cell++ = film[c];
    return cell;
}

void tl_series_row(const struct tl_snapshot *row, double *cell)
{
    struct tl_carbonate constants;
    tl_carbonate_constants(row->temperature_degC, &constants);
    struct body b = {row->tank, row->tank_ph, row->temperature_degC, row->pressure_atm, &constants};

    *cell++ = row->t_d;
    cell = add_body(cell, &b);
    b.water = row->chamber;
    b.ph = row->chamber_ph;
    cell = add_body(cell, &b);
    if (row->tower_on) {
        b.water = row->tower_out;
        b.ph = row->tower_out_ph;
        cell = add_body(cell, &b);
    } else {
        for (int c = 0; c < BODY_COLUMNS; c++)
            *cell++ = NAN;
    }
    *cell++ = row->temperature_degC;
    *cell++ = row->flow_m3_d / 24.0;
    for (int t = 0; t < row->trays; t++) {
        cell = add_film(cell, row->tray[t]);
        *cell++ = 100.0 * row->tray_voids_filled[t];
    }
    cell = add_film(cell, row->tank_wall);
    cell = add_film(cell, row->chamber_wall);
    *cell++ = row->sludge_gCOD;
    *cell++ = row->fish_kg;
    *cell++ = row->feed_g_d;
    *cell++ = row->air_degC;
    *cell++ = 1000 * row->evaporation_m3_d;
    *cell++ = row->excreted_gN_d;
    for (int t = 0; t < row->trays; t++) {
        *cell++ = row->tray_o2[t];
        *cell++ = 100.0 * row->tray_airless[t];
        *cell++ = row->tray_tan[t] < 0 ? 0 : row->tray_tan[t];
        *cell++ = row->tray_no2[t] < 0 ? 0 : row->tray_no2[t];
    }
    for (int t = 0; row->sunny && t < row->trays; t++)
        *cell++ = 100.0 * row->tray_cover[t];
    if (row->green)
        *cell++ = row->green_g_m3;
}

/* --- the file ----------------------------------------------------------------------------------- */

static void write_header(FILE *f, struct tl_series_shape shape)
{
    fputs("time_d,time_iso", f);
    for (size_t c = 1; c < tl_series_columns(shape); c++) {
        char name[TL_SERIES_NAME_SIZE];
        tl_series_column_name(shape, c, name, sizeof name);
        fprintf(f, ",%s", name);
    }
    fputc('\n', f);
}

static void release(struct tl_series *s)
{
    free(s->cell);
    free(s->line);
    free(s);
}

int tl_series_open(const char *path, const struct tl_date *start, struct tl_series_shape shape,
                   struct tl_series **out)
{
    struct tl_series *s = calloc(1, sizeof *s);
    int status = TL_E_MEMORY;
    if (!s)
        return status;
    s->cells = tl_series_columns(shape);
    s->cell = calloc(s->cells, sizeof *s->cell);
    s->line = malloc(TIME_SIZE + s->cells * (TL_NUMBER_SIZE + 1));
    if (s->cell && s->line)
        status = tl_atomic_open(&s->file, path);
    if (status != TL_OK) {
        int why = errno;
        release(s);
        errno = why;
        return status;
    }
    s->start = *start;
    setvbuf(s->file.f, s->buffer, _IOFBF, sizeof s->buffer);
    write_header(s->file.f, shape);
    *out = s;
    return TL_OK;
}

int tl_series_add(struct tl_series *s, const struct tl_snapshot *row)
{
    /* integers for the time, so that no locale can put a comma into it */
    char iso[32];
    struct tl_date date = tl_date_at(&s->start, row->t_d);
    tl_date_iso(&date, iso, sizeof iso);
    double whole = floor(row->t_d);
    long long millionths = llround((row->t_d - whole) * 1e6);
    if (millionths == 1000000) {
        millionths = 0;
        whole += 1;
    }
    char *p = s->line + snprintf(s->line, TIME_SIZE, "%.0f.%06lld,%s", whole, millionths, iso);

    tl_series_row(row, s->cell);
    for (size_t c = 1; c < s->cells; c++) {
        *p++ = ',';
        p += tl_number_write(p, s->cell[c]);
    }
    *p++ = '\n';
    fwrite(s->line, 1, (size_t)(p - s->line), s->file.f);
    return ferror(s->file.f) ? TL_E_IO : TL_OK;
}

int tl_series_close(struct tl_series *s)
{
    int status = tl_atomic_commit(&s->file);
    int why = errno;
    release(s);
    errno = why;
    return status;
}

void tl_series_abort(struct tl_series *s)
{
    if (!s)
        return;
    tl_atomic_abort(&s->file);
    release(s);
}
