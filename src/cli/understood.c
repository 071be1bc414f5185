/* What a scenario comes to: its complete written form as a tree, and figures a keeper thinks in. */
#include "understood.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/model.h"
#include "towerloop/status.h"

static int write_tree(const struct tl_scenario *scenario, struct tl_node **root)
{
    struct tl_diag diag;
    char *text = NULL;
    size_t length = 0;
    bool cut;
    FILE *f = open_memstream(&text, &length);
    if (!f)
        return TL_E_MEMORY;
    int status = tl_scenario_write(scenario, f);
    if (fclose(f) != 0 || !text) /* without memory for the last piece there is none at all */
        status = TL_E_MEMORY;
    tl_diag_init(&diag);
    if (status == TL_OK)
        status = tl_tree_parse("", false, text, length, root, &cut, &diag);
    tl_diag_free(&diag);
    free(text);
    return status == TL_OK && *root ? TL_OK : TL_E_MEMORY;
}

static double daily_feed_g(const struct tl_setup *s, double fish_g)
{
    const struct tl_ration *r = &s->feeding.ration;
    return r->kind == TL_RATION_MASS          ? r->value
           : r->kind == TL_RATION_PER_BIOMASS ? r->value * fish_g
                                              : NAN;
}

static int weigh(const struct tl_setup *s, struct tl_understood *out)
{
    struct tl_duty less = {.flow_m3_d = 0};
    struct tl_model *m = NULL;
    int status = tl_pump_duty(s, s->pump.count, &out->duty);
    if (!status)
        status = tl_pump_duty(s, s->pump.count - 1, &less);
    if (!status)
        status = tl_model_build(s, &m);
    if (!status) {
        out->last_flow_m3_d = tl_model_last_flow_m3_d(m);
        out->least_flow_m3_d = tl_model_least_flow_m3_d(m);
        out->outdoors = tl_model_heat(m) != NULL;
    }
    if (out->outdoors)
        out->heat = tl_model_heat(m)->summary;
    out->one_less_m3_d = less.flow_m3_d;
    tl_model_free(m);
    return status;
}

static void wet(const struct tl_setup *s, struct tl_understood *out)
{
    const struct tl_tower *t = &s->tower;
    const struct tl_packing p = {t->specific_surface_m2_m3, t->media_size_m,
                                 t->critical_surface_tension_n_m};
    const double at_start = tl_water_temperature_at(&s->temperature, s->start_d);
    const double t_degC = isnan(at_start) ? 20 : at_start;
    struct tl_wetting now = {.wetted_fraction = 0};

    out->wetted = out->wets_well_m_h = out->voids_filled = out->fills_half_m_h = NAN;
    if (t->submerged || !(out->load_m_h > 0))
        return;
    tl_onda(&p, out->load_m_h, t_degC, &now);
    out->wetted = now.wetted_fraction;
    out->wets_well_m_h = tl_least_wetting_load_m_h(&p);
    out->voids_filled =
        tl_water_in_voids(t->specific_surface_m2_m3, t->void_fraction, out->load_m_h, t_degC);
    out->fills_half_m_h = tl_load_that_fills_m_h(t->specific_surface_m2_m3, t->void_fraction,
                                                 TL_MOST_VOIDS_FILLED, t_degC);
}

int tl_understood_make(const struct tl_scenario *scenario, const bool *given,
                       struct tl_understood *out)
{
    const struct tl_setup *s = &scenario->setup;
    const struct tl_tower *t = &s->tower;
    const double flow_m3_h = s->pump_flow_m3_d / 24;
    *out = (struct tl_understood){
        .scenario = scenario,
        .given = given,
        .end_d = s->start_d + s->length_d,
        .turnover_1_h = flow_m3_h / s->tank.volume_m3,
        .media_volume_m3 = t->trays * t->media_depth_m * t->plan_area_m2,
        .load_m_h = flow_m3_h * s->to_tower / t->plan_area_m2,
    };
    out->media_area_m2 = out->media_volume_m3 * t->specific_surface_m2_m3;
    for (size_t i = 0; i < s->fish_groups; i++) {
        out->fish += s->fish[i].count;
        out->fish_g += s->fish[i].count * s->fish[i].mean_mass_g;
    }
    out->feed_g_d = s->feeding.appetite * daily_feed_g(s, out->fish_g);
    wet(s, out);
    int status = weigh(s, out);
    return status ? status : write_tree(scenario, &out->written);
}

void tl_understood_free(struct tl_understood *u)
{
    tl_tree_free(u->written);
    u->written = NULL;
}

const char *tl_understood_value(const struct tl_understood *u, const char *path)
{
    const struct tl_node *n = u->written;
    while (n && *path) {
        char name[TL_SHOWN_SIZE];
        const size_t length = strcspn(path, ".");
        tl_format(name, sizeof name, "%.*s", (int)length, path);
        n = n->kind == TL_NODE_MAPPING ? tl_node_child(n, name) : NULL;
        path += length;
        path += *path == '.';
    }
    return n && n->kind == TL_NODE_TEXT ? n->text : NULL;
}

void tl_understood_shown(size_t key, const char *value, enum tl_unit_system units,
                         char shown[TL_SHOWN_SIZE])
{
    struct tl_key_info info;
    char ignored[TL_SHOWN_SIZE];
    double number;
    tl_key_list_at(key, &info);
    for (size_t f = 0; f < info.forms; f++) {
        struct tl_form form;
        tl_key_list_form(key, f, &form);
        if (form.kind == TL_FORM_NUMBER && !form.lead &&
            tl_parse_quantity(value, form.dim, &number, ignored, ignored, sizeof ignored) ==
                TL_OK) {
            tl_display_text(form.dim, units, number, 4, shown, TL_SHOWN_SIZE);
            return;
        }
    }
    tl_format(shown, TL_SHOWN_SIZE, "%s", value);
}

bool tl_understood_in(const struct tl_key_info *key, const char *section)
{
    return key->section == strlen(section) && strncmp(key->path, section, key->section) == 0;
}

static bool is_below(const char *path, const char *section)
{
    const size_t length = strlen(section);
    return strncmp(path, section, length) == 0 && path[length] == '.';
}

/* Whether the file has the key's section at all: one that must name something is not there without
 * it. */
static bool has_section(const struct tl_understood *u, const struct tl_key_info *key)
{
    char section[TL_SHOWN_SIZE];
    tl_format(section, sizeof section, "%.*s", (int)key->section, key->path);
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info other;
        tl_key_list_at(i, &other);
        if (other.required && !u->given[i] && tl_understood_in(&other, section))
            return false;
    }
    return true;
}

static bool is_of_weather(const char *path)
{
    return strcmp(path, "weather") == 0 || is_below(path, "weather") ||
           strcmp(path, "heater") == 0 || is_below(path, "heater") ||
           strcmp(path, "tank.wall heat loss") == 0 ||
           strcmp(path, "source water.temperature") == 0 ||
           strcmp(path, "starting water.temperature") == 0;
}

bool tl_understood_defaulted(const struct tl_understood *u, size_t key)
{
    struct tl_key_info info;
    char text[TL_SHOWN_SIZE];
    tl_key_list_at(key, &info);
    const bool swings = u->scenario->setup.temperature.kind == TL_TEMPERATURE_SINES;
    const bool curve = u->scenario->setup.pump.curve.n > 0;
    const bool pipe = !isnan(u->scenario->setup.pump.pipe.length_m);
    if (strcmp(info.path, "pump.flow") == 0 || (is_below(info.path, "pump.pipe") && !pipe) ||
        ((strcmp(info.path, "pump.head") == 0 || strcmp(info.path, "pump.pipe") == 0) && !curve) ||
        ((is_below(info.path, "sun") || strcmp(info.path, "tank.green water") == 0) &&
         !tl_understood_value(u, info.path)))
        return false;
    if (u->given[key] || info.required || !has_section(u, &info) || strstr(info.path, "[]") ||
        is_below(info.path, "limits") || is_below(info.path, "parameters") ||
        (is_below(info.path, "temperature") && !swings) ||
        (is_of_weather(info.path) && !u->outdoors) ||
        (is_below(info.path, "heater") && !(u->scenario->setup.heater.power_w > 0)) ||
        (strcmp(info.path, "temperature") == 0 && u->outdoors) ||
        (is_below(info.path, "weather.air temperature") &&
         u->scenario->setup.weather.air.kind != TL_TEMPERATURE_SINES))
        return false;
    return info.otherwise || tl_key_default(key, text, sizeof text);
}

bool tl_understood_differs(const struct tl_understood *u, size_t key)
{
    struct tl_key_info info;
    char usual[TL_SHOWN_SIZE];
    tl_key_list_at(key, &info);
    if (!is_below(info.path, "limits") && !is_below(info.path, "parameters"))
        return false;
    const char *value = tl_understood_value(u, info.path);
    tl_key_default(key, usual, sizeof usual);
    return value && strcmp(value, usual) != 0;
}
