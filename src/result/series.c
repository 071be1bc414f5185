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

struct tl_series {
    struct tl_atomic_file file;
    struct tl_date start;
    int trays;
    double constants_degC; /* temperature the constants belong to */
    struct tl_carbonate constants;
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

static void write_header(FILE *f, int trays)
{
    static const char *const bodies[] = {"tank", "chamber", "tower_out"};
    static const char *const walls[] = {"tank_wall", "chamber_wall"};
    fputs("time_d,time_iso", f);
    for (int b = 0; b < 3; b++) {
        for (int c = 0; c < BODY_COLUMNS; c++)
            fprintf(f, ",%s_%s", bodies[b], body_columns[c].name);
    }
    fputs(",temperature_degC,flow_m3_h", f);
    for (int t = 1; t <= trays; t++) {
        for (int c = 0; c < TL_NFILM; c++)
            fprintf(f, ",tray%02d_%s", t, film_columns[c]);
        fprintf(f, ",tray%02d_voids_filled_pct", t);
    }
    for (int w = 0; w < 2; w++) {
        for (int c = 0; c < TL_NFILM; c++)
            fprintf(f, ",%s_%s", walls[w], film_columns[c]);
    }
    fputs(",chamber_sludge_gCOD,fish_kg,feed_g_d\n", f);
}

static void put(FILE *f, double value)
{
    char text[TL_NUMBER_SIZE + 1] = ",";
    size_t length = tl_number_write(text + 1, value);
    fwrite(text, 1, length + 1, f);
}

static void put_body(FILE *f, const struct body *b)
{
    for (int c = 0; c < BODY_COLUMNS; c++) {
        double value =
            body_columns[c].get ? body_columns[c].get(b) : b->water[body_columns[c].component];
        /* the solver's tolerance may leave a trace below zero; only alkalinity can really be */
        if (value < 0 && body_columns[c].get != alkalinity)
            value = 0;
        put(f, value);
    }
}

static void put_film(FILE *f, const double film[TL_NFILM])
{
    for (int c = 0; c < TL_NFILM; c++)
        put(f, film[c]);
}

int tl_series_open(const char *path, const struct tl_date *start, int trays, struct tl_series **out)
{
    struct tl_series *s = calloc(1, sizeof *s);
    if (!s)
        return TL_E_MEMORY;
    int status = tl_atomic_open(&s->file, path);
    if (status != TL_OK) {
        free(s);
        return status;
    }
    s->start = *start;
    s->trays = trays;
    s->constants_degC = NAN;
    write_header(s->file.f, trays);
    *out = s;
    return TL_OK;
}

int tl_series_add(struct tl_series *s, const struct tl_snapshot *row)
{
    FILE *f = s->file.f;
    if (!(row->temperature_degC == s->constants_degC)) {
        tl_carbonate_constants(row->temperature_degC, &s->constants);
        s->constants_degC = row->temperature_degC;
    }

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
    fprintf(f, "%.0f.%06lld,%s", whole, millionths, iso);

    struct body b = {row->tank, row->tank_ph, row->temperature_degC, row->pressure_atm,
                     &s->constants};
    put_body(f, &b);
    b.water = row->chamber;
    b.ph = row->chamber_ph;
    put_body(f, &b);
    if (row->tower_on) {
        b.water = row->tower_out;
        b.ph = row->tower_out_ph;
        put_body(f, &b);
    } else {
        for (int c = 0; c < BODY_COLUMNS; c++)
            fputc(',', f);
    }
    put(f, row->temperature_degC);
    put(f, row->flow_m3_d / 24.0);
    for (int t = 0; t < s->trays; t++) {
        put_film(f, row->tray[t]);
        put(f, 100.0 * row->tray_voids_filled[t]);
    }
    put_film(f, row->tank_wall);
    put_film(f, row->chamber_wall);
    put(f, row->sludge_gCOD);
    put(f, row->fish_kg);
    put(f, row->feed_g_d);
    fputc('\n', f);
    return ferror(f) ? TL_E_IO : TL_OK;
}

int tl_series_close(struct tl_series *s)
{
    int status = tl_atomic_commit(&s->file);
    int why = errno;
    free(s);
    errno = why;
    return status;
}

void tl_series_abort(struct tl_series *s)
{
    if (!s)
        return;
    tl_atomic_abort(&s->file);
    free(s);
}
