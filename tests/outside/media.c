/* Beds of pieces and falls of water against published tables and equations. */
#include "outside.h"

#include "towerloop/chem.h"

static double sphere_bed(const double *in)
{
    return tl_bed_surface_m2_m3(in[0], in[1] / 1000, 1);
}

/* Rounded gravel, m/s: of spheres of that size and voids. */
static double drained(const double *in)
{
    const double surface = tl_bed_surface_m2_m3(in[0], in[1] / 1000, 1);

    return tl_most_drained_load_m_h(surface, in[0], in[2]) / 3600;
}

static double weir(const double *in)
{
    return tl_weir_ratio(in[2], in[0], in[1]);
}

static const struct outside_series series[] = {
    {"media.csv",
     "sphere bed",
     "surface of a bed of spheres",
     "m2/m3",
     {{"voids", "voids ", ""}, {"size_mm", "", " mm"}},
     sphere_bed,
     "tl_bed_surface_m2_m3"},
    {"media.csv",
     "drained",
     "water that drains through full voids",
     "m/s",
     {{"voids", "voids ", ""}, {"size_mm", "", " mm"}, {"temperature_c", "", " degC"}},
     drained,
     NULL},
    {"media.csv",
     "weir",
     "oxygen deficit above a weir over that below",
     "",
     {{"drop_m", "", " m"}, {"temperature_c", "", " degC"}, {"ab", "ab ", ""}},
     weir,
     "tl_weir_ratio"},
};

const struct outside_group outside_media = {
    .title = "Media and falls",
    .series = series,
    .count = sizeof series / sizeof series[0],
};
