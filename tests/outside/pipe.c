/* Friction in pipes against published tables and worked examples. */
#include "outside.h"

#include "towerloop/pipe.h"

#define M3_D_PER_GPM (3.785411784e-3 * 1440)
#define M_PER_IN     0.0254
#define M_PER_FT     0.3048

static double factor(const double *in)
{
    return tl_friction_factor(in[0], in[1]);
}

/* gal/min, in, ft, mm; the tables are for water of 60 degF. */
static double loss(const double *in)
{
    const struct tl_pipe p = {
        .length_m = in[2] * M_PER_FT, .diameter_m = in[1] * M_PER_IN, .roughness_m = in[3] / 1000};
    return tl_pipe_loss_m(&p, in[0] * M3_D_PER_GPM, 15.6);
}

static const struct outside_series series[] = {
    {"pipe.csv",
     "factor",
     "friction factor",
     "",
     {{"re", "Re ", ""}, {"ratio", "roughness ", " of the diameter"}},
     factor,
     "tl_friction_factor"},
    {"pipe.csv",
     "loss",
     "head lost in a pipe",
     "m",
     {{"flow_gpm", "", " gal/min"},
      {"diameter_in", "", " in"},
      {"length_ft", "", " ft"},
      {"roughness_mm", "roughness ", " mm"}},
     loss,
     "tl_pipe_loss_m"},
};

const struct outside_group outside_pipe = {
    .title = "Pipe and pump",
    .series = series,
    .count = sizeof series / sizeof series[0],
};
