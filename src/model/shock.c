/* What knocks out film at once: medicine, a jump of salt, chlorine of a rinse, a share that was said.
 * The dead stay on the media and rot as after any other death; their nitrogen is in the water at once. */
#include "towerloop/shock.h"

#include <math.h>

#include "model_private.h"
#include "schedule.h"

/* Share of the living film lost at a content, g/m3; straight between the points, held beyond them.
 * Model document, section "Shocks", has the source and status of each point. */
struct loss {
    double content_g_m3, share;
};

#define POINTS 5
static const struct loss medicine[][POINTS] = {
    {{0, 0}, {9.25, 0.10}, {18.5, 0.20}, {37, 0.60}, {120, 0.95}}, /* formaldehyde */
    {{0, 0}, {10, 0.10}, {30, 0.40}, {60, 0.75}, {100, 0.97}},     /* hydrogen peroxide */
    {{0, 0}, {6, 0.15}, {9, 0.30}, {12, 0.45}, {24, 0.80}},        /* chloramine-T */
};
static const struct loss salt[POINTS] = {
    {0, 0}, {4000, 0}, {10000, 0.30}, {15000, 0.95}, {25000, 0.99}};

static double lost_at(const struct loss *point, double content_g_m3)
{
    for (int i = 1; i < POINTS; i++) {
        const struct loss *a = &point[i - 1];
        const struct loss *b = &point[i];
        if (content_g_m3 <= b->content_g_m3)
            return a->share + (b->share - a->share) *
                                  (fmax(content_g_m3, a->content_g_m3) - a->content_g_m3) /
                                  (b->content_g_m3 - a->content_g_m3);
    }
    return point[POINTS - 1].share;
}

bool tl_dose_is_medicine(enum tl_dose dose)
{
    return dose >= TL_DOSE_FORMALDEHYDE && dose < TL_NDOSE;
}

bool tl_setup_gives_medicine(const struct tl_setup *s)
{
    bool any = false;
    for (size_t i = 0; i < s->events; i++)
        any = any || (s->event[i].kind == TL_EVENT_DOSE && tl_dose_is_medicine(s->event[i].dose));
    return any;
}

double tl_medicine_kill(enum tl_dose dose, double content_g_m3)
{
    if (!tl_dose_is_medicine(dose))
        return 0;
    return lost_at(medicine[dose - TL_DOSE_FORMALDEHYDE], content_g_m3);
}

double tl_medicine_known_to(enum tl_dose dose)
{
    return medicine[dose - TL_DOSE_FORMALDEHYDE][POINTS - 1].content_g_m3;
}

double tl_medicine_content_g_m3(const struct tl_setup *s, const struct tl_event *e)
{
    return e->by == TL_DOSE_MASS ? e->value / (s->tank.volume_m3 + s->chamber.volume_m3) : e->value;
}

/* Fish are in when a dose is given, or come before it is gone. */
static bool meets_fish(const struct tl_setup *s, const struct tl_event *dose)
{
    double count = 0, coming = 0;
    for (size_t i = 0; i < s->fish_groups; i++)
        count += s->fish[i].count;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->kind == TL_EVENT_ADD_FISH && e->at_d <= dose->at_d)
            count += e->fish.count;
        else if (e->kind == TL_EVENT_ADD_FISH && e->at_d < dose->at_d + TL_MEDICINE_GONE_D)
            coming += e->fish.count;
        else if ((e->kind == TL_EVENT_REMOVE_FISH || e->kind == TL_EVENT_DEAD_FISH) &&
                 e->at_d < dose->at_d)
            count -= e->fish.count;
    }
    return count > 0 || coming > 0;
}

const struct tl_event *tl_setup_overdose(const struct tl_setup *s)
{
    const struct tl_event *first = NULL;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->kind == TL_EVENT_DOSE && tl_dose_is_medicine(e->dose) &&
            tl_medicine_content_g_m3(s, e) > tl_medicine_known_to(e->dose) && meets_fish(s, e) &&
            (!first || e->at_d < first->at_d))
            first = e;
    }
    return first;
}

double tl_salt_kill(double from_g_m3, double to_g_m3)
{
    if (!(to_g_m3 > from_g_m3))
        return 0;
    return 1 - (1 - lost_at(salt, to_g_m3)) / (1 - lost_at(salt, from_g_m3));
}

double tl_chlorine_kill(const struct tl_params *p, double chlorine_g_m3, double contact_d)
{
    return -expm1(-p->k_chlorine_kill * chlorine_g_m3 * contact_d);
}

/* One film and the water that washes it: its concentrations, its volume, where its deaths are booked. */
static void kill(const struct tl_model *m, double share, size_t film_at, size_t water_at,
                 double volume_m3, size_t extent_at, double *y)
{
    const double(*nu)[TL_NCOLUMN] = m->film.table.nu;
    double *film = &y[film_at];

    for (int g = 0; g < 3; g++) {
        const int process = TL_DECAY_A + g;
        const double dead = share * film[TL_FA + g];
        for (int k = 0; k < TL_NWATER; k++)
            y[water_at + (size_t)k] += nu[process][k] * dead / volume_m3;
        for (int i = 0; i < TL_NFILM; i++)
            film[i] += nu[process][TL_COLUMN_FILM + i] * dead;
        y[extent_at + (size_t)process] += dead;
    }
}

void tl_kill_tray(const struct tl_model *m, double share, int tray, double *y)
{
    for (int j = (tray - 1) * m->cells_per_tray; j < tray * m->cells_per_tray; j++)
        kill(m, share, m->at.cell + (size_t)(j * TL_NFILM), m->at.tank, m->setup.tank.volume_m3,
             m->at.extent_tower, y);
}

void tl_kill(const struct tl_model *m, double share, enum tl_where where, double *y)
{
    const struct tl_setup *s = &m->setup;

    for (int tray = 1; tray <= s->tower.trays && where != TL_WHERE_WALLS; tray++)
        tl_kill_tray(m, share, tray, y);
    if (where == TL_WHERE_TOWER)
        return;
    kill(m, share, m->at.tank_wall, m->at.tank, s->tank.volume_m3, m->at.extent_tank, y);
    kill(m, share, m->at.chamber_wall, m->at.chamber, s->chamber.volume_m3, m->at.extent_chamber,
         y);
}

double tl_living_oxidisers_g(const struct tl_model *m, const double *y)
{
    double sum = 0;
    for (size_t i = m->at.tank_wall; i < m->at.fish; i += TL_NFILM)
        sum += y[i + TL_FA];
    return sum;
}

double tl_ammonia_oxidised_g(const struct tl_model *m, const double *y)
{
    return (y[m->at.extent_tank + TL_GROW_A] + y[m->at.extent_chamber + TL_GROW_A] +
            y[m->at.extent_tower + TL_GROW_A]) /
           m->setup.params.y_aob;
}

bool tl_event_is_shock(const struct tl_event *e)
{
    return e->kind == TL_EVENT_KNOCK_OUT ||
           (e->kind == TL_EVENT_DOSE && (tl_dose_is_medicine(e->dose) || e->dose == TL_DOSE_SALT));
}
