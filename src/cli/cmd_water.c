/* towerloop water KEY=VALUE...: what one sample of water means, and what to do when it is bad. */
#include <stdio.h>

#include "answer.h"
#include "towerloop/status.h"
#include "water.h"

#define JSON_DIGITS 12

static int answer(const struct tl_options *o, struct tl_water *w)
{
    if (o->fix)
        tl_remedy_plan(&w->in, &w->limits, &w->plan);
    if (o->json) {
        tl_answer_json(tl_water_json(w, o->fix), JSON_DIGITS);
    } else if (!o->quiet) {
        tl_water_print(w);
        if (o->fix)
            tl_water_print_plan(w);
    }
    const bool reached = o->fail_on != TL_WITHIN && tl_figures_grade(&w->figures) >= o->fail_on;
    return reached ? TL_EXIT_FAIL_ON : TL_EXIT_DONE;
}

static int cmd_water(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_water, &o, &finished);
    if (!finished) {
        struct tl_diag diag;
        struct tl_water w = {.units = o.units};
        tl_diag_init(&diag);
        tl_limits_default(&w.limits);
        const int status = tl_water_read(o.word, o.words, o.fix, &w, &diag);
        tl_complain_diag(&diag, !o.quiet);
        tl_diag_free(&diag);
        code = TL_EXIT_USAGE;
        if (status == TL_OK) {
            tl_sample_judge(&w.in.pond, &w.limits, &w.figures);
            code = answer(&o, &w);
        }
    }
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_water = {
    .name = "water",
    .run = cmd_water,
    .help = "what one sample of water means; --fix: what to do now",
    .words = "KEY=VALUE...",
    .least_words = 1,
    .most_words = 64,
    .takes = TL_TAKES(FIX) | TL_TAKES(UNITS) | TL_TAKES(JSON) | TL_TAKES(FAIL_ON) | TL_TAKES(QUIET),
    .more = "Readings: temperature, pH, ammonia (total), nitrite, nitrate, alkalinity,\n"
            "chloride, oxygen, elevation, salinity. Give those you have; what needs others\n"
            "is named.\n"
            "Nitrogen has to say how it is counted: as N, as NH3, as NH4, as NO2 or as NO3.\n"
            "\n"
            "  towerloop water temperature=\"75 degF\" pH=8.4 \\\n"
            "      \"ammonia=2 mg/L as N\" \"nitrite=1 mg/L as N\" \\\n"
            "      \"alkalinity=120 mg/L as CaCO3\"\n"
            "\n"
            "--fix also uses volume (of all the water in the loop), fish (their mass), and\n"
            "of the water for a change: source temperature, source pH, source ammonia,\n"
            "source nitrite, source nitrate, source alkalinity, source chloride, source\n"
            "chlorine (as mg/L Cl2, or unknown), source chlorine form (chlorine, chloramine\n"
            "or unknown).\n"
            "\n"
            "--json has verdict, readings, assumed, figures (key, name, value, unit, source,\n"
            "caution, danger, limits_source, grade, outside, missing), ranges, and with --fix\n"
            "plan (needed, volume, source, steps, held, left, end, measure). Its units are\n"
            "metric; null: unknown. Also may_be (the worst it may be, which --fail-on goes\n"
            "by), cannot_be_told (figures), and of a figure least and most, where readings\n"
            "are missing.\n",
    .prints_only = true,
};
