/* The ledger: what came in, went out and stayed, from the running totals of the integrator.
 *
 * Every process books its extent at the place where it ran; a flux between water, films and sludge is
 * its extent times the process table. Each part must close on its own.
 *
 * Fish stand inside the border for nitrogen, outside it for carbon: what they breathe out and drop
 * comes in. The charge that nitrogen carries, less alkalinity, is changed by nothing inside the loop,
 * so no process is booked there. */
#include "towerloop/ledger.h"

#include <math.h>
#include <string.h>

#include "loop.h"
#include "process.h"
#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"

enum place { TANK, CHAMBER, TOWER, PLACES };

/* What each process did over the run, by place; the totals of the end (they start at 0); what one
 * unit of each column holds. */
struct books {
    const struct tl_setup *s;
    const struct tl_layout *at;
    struct tl_process_table table;
    double n[TL_NCOLUMN]; /* gN */
    double c[TL_NCOLUMN]; /* mol C */
    double extent[PLACES][TL_NPROCESS];
    double idle[3]; /* decay in the standing tower */
    const double *y0;
    const double *y1;
};

/* A sum that remembers how much went through it. */
struct flux {
    double net;
    double gross;
};

static void add(struct flux *f, double amount)
{
    f->net += amount;
    f->gross += fabs(amount);
}

static bool has_mats(const struct books *b)
{
    return b->at->green > b->at->mat;
}

static bool has_dead(const struct books *b)
{
    return b->at->formaldehyde > b->at->dead;
}

static bool has_green(const struct books *b)
{
    return b->at->core > b->at->green;
}

static void open_books(const struct tl_model *m, const double *y0, const double *y1,
                       struct books *b)
{
    *b = (struct books){.s = tl_model_setup(m), .at = tl_model_layout(m), .y0 = y0, .y1 = y1};
    tl_process_table_fill(&b->s->params, &b->table);
    for (int k = 0; k < TL_NCOLUMN; k++) {
        b->n[k] = tl_column_nitrogen(&b->s->params, k);
        b->c[k] = tl_column_is_organic(k) ? TL_CARBON_MOL_PER_GCOD : k == TL_TIC;
    }
    for (int p = 0; p < TL_NWATER_PROCESS; p++)
        b->extent[TANK][p] = y1[b->at->extent_tank + (size_t)p];
    for (int p = 0; p < TL_NCHAMBER_PROCESS; p++)
        b->extent[CHAMBER][p] = y1[b->at->extent_chamber + (size_t)p];
    for (int p = 0; p < TL_NFILM_PROCESS; p++)
        b->extent[TOWER][p] = y1[b->at->extent_tower + (size_t)p];
    b->extent[TOWER][TL_CAPTURE_S] = y1[b->at->extent_tower + TL_NFILM_PROCESS];
    b->extent[TOWER][TL_CAPTURE_I] = y1[b->at->extent_tower + TL_NFILM_PROCESS + 1];
    for (int g = 0; g < 3; g++)
        b->idle[g] = y1[b->at->extent_idle + (size_t)g];
    for (size_t i = 0; i < TL_NALGAE_PROCESS; i++) {
        if (has_mats(b))
            b->extent[TOWER][TL_ALGAE_ON_TAN + i] = y1[b->at->extent_mat + i];
        if (has_green(b))
            b->extent[TANK][TL_ALGAE_ON_TAN + i] = y1[b->at->extent_green + i];
    }
}

static double total(const struct books *b, size_t first, int index)
{
    return b->y1[first + (size_t)index];
}

static void line(struct tl_ledger_account *a, enum tl_ledger_side side, const char *key,
                 const char *text, double amount)
{
    if (a->lines < TL_LEDGER_LINES)
        a->line[a->lines++] = (struct tl_ledger_line){side, key, text, amount};
    if (side == TL_LEDGER_STORED)
        a->stored += amount;
}

/* Keep the worst part of an account. */
static void close_part(struct tl_ledger_account *a, const char *part, struct flux f, double stored)
{
    const double through = 0.5 * (f.gross + fabs(stored));
    const double residual = through == 0 ? 0 : (f.net - stored) / through;

    /* not a number is worse than any number, and stays */
    if (!isnan(a->residual_rel) && !(fabs(residual) <= fabs(a->residual_rel))) {
        a->residual_rel = residual;
        a->worst_part = part;
    }
}

/* --- contents ---------------------------------------------------------------------------------- */

/* What concentrations or amounts of the water's components hold; `content` is of the books. */
static double water_holds(const double *content, const double *x)
{
    double sum = 0;
    for (int k = 0; k < TL_NWATER; k++)
        sum += content[k] * x[k];
    return sum;
}

static double film_holds(const double *content, const double *x)
{
    double sum = 0;
    for (int k = 0; k < TL_NFILM; k++)
        sum += content[TL_COLUMN_FILM + k] * x[k];
    return sum;
}

static double sludge_holds(const double *content, const double *x)
{
    return content[TL_COLUMN_SLUDGE_S] * x[0] + content[TL_COLUMN_SLUDGE_I] * x[1];
}

/* All algae, gCOD. */
static double algae_g(const struct books *b, const double *y)
{
    double sum = 0;
    for (size_t i = b->at->mat; i < b->at->core; i++)
        sum += y[i];
    return sum;
}

/* How much more there is at the end than at the start. */
static double stored_in_water(const struct books *b, const double *content)
{
    return b->s->tank.volume_m3 * (water_holds(content, &b->y1[b->at->tank]) -
                                   water_holds(content, &b->y0[b->at->tank])) +
           b->s->chamber.volume_m3 * (water_holds(content, &b->y1[b->at->chamber]) -
                                      water_holds(content, &b->y0[b->at->chamber]));
}

static double stored_in_films(const struct books *b, const double *content)
{
    double sum = 0;
    for (size_t i = b->at->tank_wall; i < b->at->fish; i += TL_NFILM)
        sum += film_holds(content, &b->y1[i]) - film_holds(content, &b->y0[i]);
    return sum;
}

/* Where hardly anything goes through, what is stored is the rounding of what is there. */
#define ROUNDING 1e-6 /* of what is there, far above that of doubles */

static double held_in_films(const struct books *b, const double *content)
{
    double sum = 0;
    for (size_t i = b->at->tank_wall; i < b->at->fish; i += TL_NFILM)
        for (int k = 0; k < TL_NFILM; k++)
            sum += fabs(content[TL_COLUMN_FILM + k]) *
                   (fabs(b->y0[i + (size_t)k]) + fabs(b->y1[i + (size_t)k]));
    return sum;
}

static double stored_in_sludge(const struct books *b, const double *content)
{
    return sludge_holds(content, &b->y1[b->at->sludge]) -
           sludge_holds(content, &b->y0[b->at->sludge]);
}

/* What one unit of a process brings into the columns first .. last. */
static double process_brings(const struct books *b, const double *content, int process, int first,
                             int last)
{
    double sum = 0;
    for (int k = first; k <= last; k++)
        sum += content[k] * b->table.nu[process][k];
    return sum;
}

static void add_processes(const struct books *b, const double *content, struct flux *f, int first,
                          int last)
{
    for (int place = 0; place < PLACES; place++)
        for (int p = 0; p < TL_NPROCESS; p++)
            add(f, b->extent[place][p] * process_brings(b, content, p, first, last));
}

/* The parts that films and sludge are, alike in all accounts. */
static void close_films(const struct books *b, const double *content, struct tl_ledger_account *a)
{
    const int first = TL_COLUMN_FILM;
    const int last = TL_COLUMN_FILM + TL_NFILM - 1;
    struct flux films = {0, 0};

    add(&films, -film_holds(content, &b->y1[b->at->film_out]));
    add_processes(b, content, &films, first, last);
    for (int g = 0; g < 3; g++)
        add(&films, b->idle[g] * process_brings(b, content, TL_DECAY_A + g, first, last));
    films.gross = fmax(films.gross, ROUNDING * held_in_films(b, content));
    close_part(a, "films", films, stored_in_films(b, content));
}

static void close_sludge(const struct books *b, const double *content, struct tl_ledger_account *a)
{
    struct flux sludge = {0, 0};

    add(&sludge, -sludge_holds(content, &b->y1[b->at->sludge_out]));
    add_processes(b, content, &sludge, TL_COLUMN_SLUDGE_S, TL_COLUMN_SLUDGE_I);
    close_part(a, "sludge", sludge, stored_in_sludge(b, content));
}

/* How much more of something the algae hold, and their lines where there is sun. */
static void close_algae(const struct books *b, const double *content, struct tl_ledger_account *a)
{
    const double each = content[TL_COLUMN_ALGAE];
    const double stored = each * (algae_g(b, b->y1) - algae_g(b, b->y0));
    struct flux algae = {0, 0};

    if (!has_mats(b))
        return;
    const double hosed = each * total(b, b->at->algae_out, TL_ALGAE_HOSED);
    const double overflow = each * total(b, b->at->algae_out, TL_ALGAE_OVERFLOW);
    line(a, TL_LEDGER_OUT, "hosed_algae", "hosed off with algae", hosed);
    line(a, TL_LEDGER_OUT, "green_water", "out with green water", overflow);
    line(a, TL_LEDGER_STORED, "algae", "in algae", stored);
    add(&algae, -hosed);
    add(&algae, -overflow);
    add_processes(b, content, &algae, TL_COLUMN_ALGAE, TL_COLUMN_ALGAE);
    close_part(a, "algae", algae, stored);
}

/* Ammonia nitrogen from the fish, and from uneaten feed beyond what its solids hold. */
static double excreted_n(const struct books *b)
{
    return b->s->params.n_feed * b->s->feeding.protein *
               total(b, b->at->fish_total, TL_ABSORBED_G) +
           total(b, b->at->fish_total, TL_BASAL_N_G);
}

static double uneaten_ammonia_n(const struct books *b)
{
    const struct tl_params *p = &b->s->params;
    return (p->n_of_protein * b->s->feeding.protein - p->i_organics * p->cod_of_feed) *
           total(b, b->at->fish_total, TL_UNEATEN_G);
}

/* Of fish that rotted in the tank, kg. */
static double rotted_kg(const struct books *b)
{
    return has_dead(b) ? b->y1[b->at->rotted] : 0;
}

/* Their organic matter, gCOD: solids hold no more nitrogen than the fish did. */
static double rotted_cod(const struct books *b)
{
    const struct tl_params *p = &b->s->params;
    const double n = p->n_of_fish / 1000;
    const double solids = p->i_organics * p->cod_of_fish > n ? n / p->i_organics : p->cod_of_fish;
    return 1000 * rotted_kg(b) * solids;
}

static double rotted_n(const struct books *b)
{
    return b->s->params.n_of_fish * rotted_kg(b);
}

static double rotted_ammonia_n(const struct books *b)
{
    return rotted_n(b) - b->s->params.i_organics * rotted_cod(b);
}

/* Of a medicine, g. */
static double burnt_g(const struct books *b)
{
    return b->at->mat > b->at->formaldehyde ? b->y1[b->at->burnt] : 0;
}

/* Organic matter from the fish, gCOD. */
static double faeces_cod(const struct books *b)
{
    const struct tl_params *p = &b->s->params;
    return (p->solids_per_feed + p->inert_per_feed + p->dissolved_per_feed) *
           total(b, b->at->fish_total, TL_ABSORBED_G);
}

static double chloramine_n(const struct books *b)
{
    return b->s->source.chloramine ? TL_CHLORAMINE_N_PER_CHLORINE * b->y1[b->at->chlorine_lost] : 0;
}

/* --- nitrogen -------------------------------------------------------------------------------- */

static double guts_g(const struct books *b, const double *y)
{
    double sum = 0;
    for (size_t i = b->at->fish; i < b->at->store; i += TL_FISH_SLOTS)
        sum += y[i + TL_FISH_GUT1_G] + y[i + TL_FISH_GUT2_G];
    return sum;
}

/* Extent of a process, all places together. */
static double done(const struct books *b, int process)
{
    double sum = 0;
    for (int place = 0; place < PLACES; place++)
        sum += b->extent[place][process];
    return sum;
}

/* What a process did to a component of the water, all places together. */
static double everywhere(const struct books *b, int process, int component)
{
    return done(b, process) * b->table.nu[process][component];
}

/* Nitrate that became nitrogen gas, gN. */
static double nitrogen_gas(const struct books *b)
{
    return everywhere(b, TL_GROW_H_NO3, TL_COLUMN_N2) +
           everywhere(b, TL_SLUDGE_ON_NO3, TL_COLUMN_N2);
}

static void nitrogen(const struct books *b, struct tl_ledger_account *a)
{
    const struct tl_params *p = &b->s->params;
    const double protein_n = p->n_of_protein * b->s->feeding.protein; /* gN per g feed */
    const double fed = protein_n * total(b, b->at->fish_total, TL_FED_G);
    const double uneaten = protein_n * total(b, b->at->fish_total, TL_UNEATEN_G);
    const double absorbed_g = total(b, b->at->fish_total, TL_ABSORBED_G);
    const double basal = total(b, b->at->fish_total, TL_BASAL_N_G);
    const double excreted = excreted_n(b);
    const double faeces = p->i_organics * faeces_cod(b);
    const double retained = protein_n * absorbed_g - excreted - faeces;
    const double source = water_holds(b->n, &b->y1[b->at->source_in]);
    const double dosed = water_holds(b->n, &b->y1[b->at->dosed]);
    const double out = water_holds(b->n, &b->y1[b->at->water_out]);
    const double rinsed = film_holds(b->n, &b->y1[b->at->film_out]);
    const double emptied = sludge_holds(b->n, &b->y1[b->at->sludge_out]);
    const double guts_lost = protein_n * total(b, b->at->fish_total, TL_GUT_LOST_G);
    const double d_water = stored_in_water(b, b->n);
    const double d_films = stored_in_films(b, b->n);
    const double d_sludge = stored_in_sludge(b, b->n);
    const double d_guts = protein_n * (guts_g(b, b->y1) - guts_g(b, b->y0));
    const double d_store = b->y1[b->at->store] - b->y0[b->at->store];
    const double ya = p->y_aob;

    a->name = "nitrogen";
    a->unit = "gN";
    line(a, TL_LEDGER_IN, "feed", "feed", fed + uneaten);
    line(a, TL_LEDGER_IN, "source_water", "source water", source);
    line(a, TL_LEDGER_IN, "doses", "doses", dosed);
    line(a, TL_LEDGER_IN, "chloramine", "chloramine", chloramine_n(b));
    if (has_dead(b)) {
        line(a, TL_LEDGER_IN, "dead_fish", "fish that rotted", rotted_n(b));
        line(a, TL_LEDGER_NOTE, "dead_fish_ammonia", "of it as ammonia", rotted_ammonia_n(b));
    }
    line(a, TL_LEDGER_OUT, "water", "out with water", out);
    line(a, TL_LEDGER_OUT, "retained_by_fish", "retained by fish, by difference", retained);
    line(a, TL_LEDGER_OUT, "rinsed_films", "rinsed from trays", rinsed);
    line(a, TL_LEDGER_OUT, "emptied_sludge", "emptied with sludge", emptied);
    line(a, TL_LEDGER_OUT, "guts_of_removed_fish", "in guts of fish removed", guts_lost);
    line(a, TL_LEDGER_OUT, "nitrogen_gas", "left as nitrogen gas", nitrogen_gas(b));
    line(a, TL_LEDGER_STORED, "water", "in water", d_water);
    line(a, TL_LEDGER_STORED, "films", "in films", d_films + d_store);
    line(a, TL_LEDGER_STORED, "sludge", "in sludge", d_sludge);
    line(a, TL_LEDGER_STORED, "guts", "in guts", d_guts);
    line(a, TL_LEDGER_NOTE, "excreted", "excreted as ammonia", excreted);
    line(a, TL_LEDGER_NOTE, "faeces", "in solids and dissolved organics", faeces);
    line(a, TL_LEDGER_NOTE, "uneaten", "in uneaten feed", uneaten);
    line(a, TL_LEDGER_NOTE, "oxidised_tower", "ammonia oxidised in the tower",
         b->extent[TOWER][TL_GROW_A] / ya);
    line(a, TL_LEDGER_NOTE, "oxidised_tank_wall", "ammonia oxidised on the tank's walls",
         b->extent[TANK][TL_GROW_A] / ya);
    line(a, TL_LEDGER_NOTE, "oxidised_chamber_wall", "ammonia oxidised on the chamber's walls",
         b->extent[CHAMBER][TL_GROW_A] / ya);
    line(a, TL_LEDGER_NOTE, "from_sludge", "ammonia freed by sludge",
         everywhere(b, TL_SLUDGE_OXIDISED, TL_TAN));
    line(
        a, TL_LEDGER_NOTE, "nitrite_oxidised", "nitrite oxidised, everywhere",
        (b->extent[TOWER][TL_GROW_N] + b->extent[TANK][TL_GROW_N] + b->extent[CHAMBER][TL_GROW_N]) /
            p->y_nob);
    if (b->s->feeding.grows) {
        const double gained_kg =
            absorbed_g / (1000 * b->s->feeding.feed_conversion) - basal / p->n_of_fish;
        line(a, TL_LEDGER_NOTE, "growth_gap", "retained beyond what the growth holds",
             retained - p->n_of_fish * gained_kg);
    }

    if (has_mats(b)) {
        line(a, TL_LEDGER_NOTE, "taken_by_algae", "taken up by algae",
             p->i_algae * (done(b, TL_ALGAE_ON_TAN) + done(b, TL_ALGAE_ON_NO3)));
        line(a, TL_LEDGER_NOTE, "returned_by_algae", "given back by algae as ammonia",
             everywhere(b, TL_ALGAE_RESPIRE, TL_TAN) + everywhere(b, TL_ALGAE_DIE, TL_TAN));
    }

    struct flux water = {0, 0};
    add(&water, source);
    add(&water, dosed);
    add(&water, chloramine_n(b));
    add(&water, excreted);
    add(&water, faeces);
    add(&water, uneaten);
    add(&water, rotted_n(b));
    add(&water, b->y1[b->at->store_out]);
    add(&water, -out);
    add_processes(b, b->n, &water, 0, TL_NWATER - 1);
    close_part(a, "water", water, d_water);

    close_films(b, b->n, a);
    close_sludge(b, b->n, a);
    close_algae(b, b->n, a);

    struct flux store = {0, 0};
    add(&store, -b->y1[b->at->store_out]);
    for (int g = 0; g < 3; g++)
        add(&store, b->idle[g] * b->table.nu[TL_DECAY_A + g][TL_TAN]);
    close_part(a, "standing tower", store, d_store);

    struct flux guts = {0, 0};
    add(&guts, fed);
    add(&guts, -protein_n * absorbed_g);
    add(&guts, -guts_lost);
    close_part(a, "guts", guts, d_guts);

    a->throughput = fed + uneaten + source + dosed + chloramine_n(b) + rotted_n(b);
}

/* --- oxygen ---------------------------------------------------------------------------------- */

static double in_water(const struct books *b, const double *y, int component)
{
    return b->s->tank.volume_m3 * y[b->at->tank + (size_t)component] +
           b->s->chamber.volume_m3 * y[b->at->chamber + (size_t)component];
}

static void oxygen(const struct books *b, struct tl_ledger_account *a)
{
    const double *gas = &b->y1[b->at->gas_o2];
    const double source = b->y1[b->at->source_in + TL_O2];
    const double out = b->y1[b->at->water_out + TL_O2];
    const double fish = total(b, b->at->fish_total, TL_FISH_O2_G);
    const double nitrifiers = everywhere(b, TL_GROW_A, TL_O2) + everywhere(b, TL_GROW_N, TL_O2);
    const double heterotrophs = everywhere(b, TL_GROW_H, TL_O2);
    const double sludge = everywhere(b, TL_SLUDGE_OXIDISED, TL_O2);
    const double made =
        everywhere(b, TL_ALGAE_ON_TAN, TL_O2) + everywhere(b, TL_ALGAE_ON_NO3, TL_O2);
    const double algae = everywhere(b, TL_ALGAE_RESPIRE, TL_O2);
    const double medicine = TL_FORMALDEHYDE_O2_G_PER_G * burnt_g(b);
    const double stored = in_water(b, b->y1, TL_O2) - in_water(b, b->y0, TL_O2);
    struct flux water = {0, 0};

    a->name = "oxygen";
    a->unit = "g";
    line(a, TL_LEDGER_IN, "tower", "air in the tower", gas[TL_GAS_TOWER]);
    line(a, TL_LEDGER_IN, "aerator", "aerator", gas[TL_GAS_AERATOR]);
    line(a, TL_LEDGER_IN, "tank_surface", "surface of the tank", gas[TL_GAS_TANK_SURFACE]);
    line(a, TL_LEDGER_IN, "chamber_surface", "surface of the chamber", gas[TL_GAS_CHAMBER_SURFACE]);
    line(a, TL_LEDGER_IN, "source_water", "source water", source);
    line(a, TL_LEDGER_OUT, "fish", "fish", fish);
    line(a, TL_LEDGER_OUT, "nitrifiers", "nitrifiers", -nitrifiers);
    line(a, TL_LEDGER_OUT, "heterotrophs", "heterotrophs", -heterotrophs);
    line(a, TL_LEDGER_OUT, "sludge", "sludge", -sludge);
    line(a, TL_LEDGER_OUT, "water", "out with water", out);
    line(a, TL_LEDGER_STORED, "water", "in water", stored);
    if (medicine > 0)
        line(a, TL_LEDGER_OUT, "formaldehyde", "formaldehyde", medicine);
    if (has_dead(b))
        line(a, TL_LEDGER_NOTE, "dead_fish_demand", "to burn the fish that rotted", rotted_cod(b));
    if (has_mats(b)) {
        line(a, TL_LEDGER_IN, "algae", "algae in the light", made);
        line(a, TL_LEDGER_OUT, "algae", "respiration of algae", -algae);
    }

    for (int i = 0; i < TL_GAS_PATHS; i++)
        add(&water, gas[i]);
    add(&water, source);
    add(&water, -out);
    add(&water, -fish);
    add(&water, nitrifiers);
    add(&water, heterotrophs);
    add(&water, sludge);
    add(&water, -medicine);
    add(&water, made);
    add(&water, algae);
    close_part(a, "water", water, stored);
    a->throughput = 0.5 * (water.gross + fabs(stored));
}

/* --- alkalinity ------------------------------------------------------------------------------ */

static void alkalinity(const struct books *b, struct tl_ledger_account *a)
{
    const double fish =
        (excreted_n(b) + uneaten_ammonia_n(b) + rotted_ammonia_n(b)) / TL_N_G_PER_MOL;
    const double store = b->y1[b->at->store_out] / TL_N_G_PER_MOL;
    const double source = b->y1[b->at->source_in + TL_ALK];
    const double dosed = b->y1[b->at->dosed + TL_ALK];
    const double out = b->y1[b->at->water_out + TL_ALK];
    const double nitrification =
        everywhere(b, TL_GROW_A, TL_ALK) + everywhere(b, TL_GROW_N, TL_ALK);
    const double stored = in_water(b, b->y1, TL_ALK) - in_water(b, b->y0, TL_ALK);
    const double denitrification = nitrogen_gas(b) / TL_N_G_PER_MOL;
    double decay = store - denitrification; /* the loop below books it with the rest */
    double algae = 0;
    for (int process = TL_GROW_H; process < TL_ALGAE_ON_TAN; process++)
        decay += everywhere(b, process, TL_ALK);
    for (int process = TL_ALGAE_ON_TAN; process < TL_NPROCESS; process++)
        algae += everywhere(b, process, TL_ALK);
    struct flux water = {0, 0};

    a->name = "alkalinity";
    a->unit = "eq";
    line(a, TL_LEDGER_IN, "source_water", "source water", source);
    line(a, TL_LEDGER_IN, "doses", "doses", dosed);
    line(a, TL_LEDGER_IN, "fish", "ammonia from fish and feed", fish);
    line(a, TL_LEDGER_IN, "decay", "ammonia from decay, less uptake", decay);
    line(a, TL_LEDGER_IN, "denitrification", "denitrification", denitrification);
    if (has_mats(b))
        line(a, TL_LEDGER_IN, "algae", "uptake of nitrogen by algae, less release", algae);
    line(a, TL_LEDGER_OUT, "nitrification", "nitrification", -nitrification);
    line(a, TL_LEDGER_OUT, "water", "out with water", out);
    line(a, TL_LEDGER_STORED, "water", "in water", stored);

    add(&water, source);
    add(&water, dosed);
    add(&water, fish);
    add(&water, decay);
    add(&water, denitrification);
    add(&water, algae);
    add(&water, nitrification);
    add(&water, -out);
    close_part(a, "water", water, stored);
    a->throughput = 0.5 * (water.gross + fabs(stored));
}

/* --- carbon ---------------------------------------------------------------------------------- */

static void carbon(const struct books *b, struct tl_ledger_account *a)
{
    const struct tl_params *p = &b->s->params;
    const double *gas = &b->y1[b->at->gas_tic];
    const double breathed =
        p->respiratory_quotient / 32 * total(b, b->at->fish_total, TL_FISH_O2_G);
    const double feed =
        TL_CARBON_MOL_PER_GCOD *
        (faeces_cod(b) + p->cod_of_feed * total(b, b->at->fish_total, TL_UNEATEN_G));
    const double medicine = TL_FORMALDEHYDE_MOL_PER_G * burnt_g(b);
    const double dead = TL_CARBON_MOL_PER_GCOD * rotted_cod(b);
    const double source = water_holds(b->c, &b->y1[b->at->source_in]);
    const double dosed = water_holds(b->c, &b->y1[b->at->dosed]);
    const double out = water_holds(b->c, &b->y1[b->at->water_out]);
    const double stored = stored_in_water(b, b->c);
    struct flux water = {0, 0};

    a->name = "carbon";
    a->unit = "mol";
    line(a, TL_LEDGER_IN, "fish", "breathed out by fish", breathed);
    line(a, TL_LEDGER_IN, "feed", "faeces and uneaten feed", feed);
    if (has_dead(b))
        line(a, TL_LEDGER_IN, "dead_fish", "fish that rotted", dead);
    if (medicine > 0)
        line(a, TL_LEDGER_IN, "formaldehyde", "formaldehyde", medicine);
    line(a, TL_LEDGER_IN, "source_water", "source water", source);
    line(a, TL_LEDGER_IN, "doses", "doses", dosed);
    line(a, TL_LEDGER_OUT, "tower", "air in the tower", -gas[TL_GAS_TOWER]);
    line(a, TL_LEDGER_OUT, "aerator", "aerator", -gas[TL_GAS_AERATOR]);
    line(a, TL_LEDGER_OUT, "tank_surface", "surface of the tank", -gas[TL_GAS_TANK_SURFACE]);
    line(a, TL_LEDGER_OUT, "chamber_surface", "surface of the chamber",
         -gas[TL_GAS_CHAMBER_SURFACE]);
    line(a, TL_LEDGER_OUT, "water", "out with water", out);
    line(a, TL_LEDGER_OUT, "rinsed_films", "rinsed from trays",
         film_holds(b->c, &b->y1[b->at->film_out]));
    line(a, TL_LEDGER_OUT, "emptied_sludge", "emptied with sludge",
         sludge_holds(b->c, &b->y1[b->at->sludge_out]));
    line(a, TL_LEDGER_STORED, "water", "in water", stored);
    line(a, TL_LEDGER_STORED, "films", "in films", stored_in_films(b, b->c));
    line(a, TL_LEDGER_STORED, "sludge", "in sludge", stored_in_sludge(b, b->c));

    for (int i = 0; i < TL_GAS_PATHS; i++)
        add(&water, gas[i]);
    add(&water, breathed);
    add(&water, feed);
    add(&water, dead);
    add(&water, medicine);
    add(&water, source);
    add(&water, dosed);
    add(&water, -out);
    add_processes(b, b->c, &water, 0, TL_NWATER - 1);
    close_part(a, "water", water, stored);
    close_films(b, b->c, a);
    close_sludge(b, b->c, a);
    close_algae(b, b->c, a);
    a->throughput = 0.5 * (water.gross + fabs(stored));
}

/* --- charge ---------------------------------------------------------------------------------- */

/* Book water that crosses the border; returns its charge. Nitrogen and alkalinity count one by one
 * in what went through, since in the sum they cancel. */
static double add_charge(struct flux *f, double sign, const double *x)
{
    const double n = (x[TL_TAN] - x[TL_NO2] - x[TL_NO3]) / TL_N_G_PER_MOL;

    f->net += sign * (n - x[TL_ALK]);
    f->gross += fabs(n) + fabs(x[TL_ALK]);
    return n - x[TL_ALK];
}

static void charge(const struct books *b, struct tl_ledger_account *a)
{
    static const double content[TL_NCOLUMN] = {[TL_TAN] = 1 / TL_N_G_PER_MOL,
                                               [TL_NO2] = -1 / TL_N_G_PER_MOL,
                                               [TL_NO3] = -1 / TL_N_G_PER_MOL,
                                               [TL_ALK] = -1};
    struct flux water = {0, 0};
    const double source = add_charge(&water, 1, &b->y1[b->at->source_in]);
    const double dosed = add_charge(&water, 1, &b->y1[b->at->dosed]);
    const double out = add_charge(&water, -1, &b->y1[b->at->water_out]);
    const double chloramine = chloramine_n(b) / TL_N_G_PER_MOL;
    const double stored = stored_in_water(b, content);

    a->name = "charge";
    a->unit = "eq";
    line(a, TL_LEDGER_IN, "source_water", "source water", source);
    line(a, TL_LEDGER_IN, "doses", "doses", dosed);
    line(a, TL_LEDGER_IN, "chloramine", "ammonium of chloramine", chloramine);
    line(a, TL_LEDGER_OUT, "water", "out with water", out);
    line(a, TL_LEDGER_STORED, "water", "in water", stored);

    add(&water, chloramine);
    /* the rest moves charge and alkalinity alike: it goes through, and adds nothing */
    for (int process = 0; process < TL_NPROCESS; process++)
        water.gross += 2 * fabs(everywhere(b, process, TL_ALK));
    water.gross +=
        2 *
        fabs(excreted_n(b) + uneaten_ammonia_n(b) + rotted_ammonia_n(b) + b->y1[b->at->store_out]) /
        TL_N_G_PER_MOL;
    close_part(a, "water", water, stored);
    a->throughput = 0.5 * (water.gross + fabs(stored));
}

void tl_ledger_draw_up(const struct tl_model *m, const double *y_start, const double *y_end,
                       double length_d, struct tl_ledger *out)
{
    struct books b;

    open_books(m, y_start, y_end, &b);
    *out = (struct tl_ledger){.length_d = length_d};
    out->nitrogen.worst_part = out->oxygen.worst_part = out->alkalinity.worst_part = "water";
    out->carbon.worst_part = out->charge.worst_part = "water";
    nitrogen(&b, &out->nitrogen);
    oxygen(&b, &out->oxygen);
    alkalinity(&b, &out->alkalinity);
    carbon(&b, &out->carbon);
    charge(&b, &out->charge);
}

void tl_ledger_ammonia(const struct tl_model *m, const double *y, struct tl_ammonia_sums *out)
{
    struct books b;

    open_books(m, y, y, &b);
    *out = (struct tl_ammonia_sums){
        .loaded_g = excreted_n(&b) + uneaten_ammonia_n(&b) + rotted_ammonia_n(&b) +
                    chloramine_n(&b) + y[b.at->source_in + TL_TAN] + y[b.at->dosed + TL_TAN],
        .freed_g = y[b.at->store_out],
        .oxidised_g = done(&b, TL_GROW_A) / b.s->params.y_aob,
        .nitrite_oxidised_g = done(&b, TL_GROW_N) / b.s->params.y_nob};
    for (int process = TL_GROW_H; process < TL_ALGAE_ON_TAN; process++)
        out->freed_g += everywhere(&b, process, TL_TAN);
    for (size_t i = b.at->tank_wall; i < b.at->fish; i += TL_NFILM)
        out->aob_g += y[i + TL_FA];
}

int tl_ledger_check(const struct tl_ledger *l, char *fault, size_t size)
{
    const struct tl_ledger_account *const account[] = {&l->nitrogen, &l->oxygen, &l->alkalinity,
                                                       &l->carbon, &l->charge};

    for (size_t i = 0; i < sizeof account / sizeof account[0]; i++)
        if (!(fabs(account[i]->residual_rel) <= TL_LEDGER_TOLERANCE)) {
            (void)tl_format(fault, size,
                            "the ledger of %s does not close in %s: %.3g of what went through it",
                            account[i]->name, account[i]->worst_part, account[i]->residual_rel);
            return TL_E_LEDGER;
        }
    return TL_OK;
}
