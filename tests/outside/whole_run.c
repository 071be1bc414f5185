#include "whole_run.h"

#include <stdio.h>
#include <string.h>

#include "towerloop/status.h"

int whole_run_start(const struct tl_setup *s, const struct tl_observer *o, struct whole_run *out)
{
    const struct tl_engine_options options = {.observer = o, .observers = o != NULL};

    memset(out, 0, sizeof *out);
    if (tl_model_build(s, &out->model) != TL_OK ||
        tl_engine_new(out->model, &options, &out->engine) != TL_OK) {
        fprintf(stderr, "a run cannot be made\n");
        whole_run_end(out);
        return -1;
    }
    out->at = tl_model_layout(out->model);
    out->y = tl_engine_state(out->engine);
    return 0;
}

int whole_run_to(struct whole_run *r, double t_d)
{
    if (tl_engine_advance(r->engine, t_d) == TL_OK)
        return 0;
    fprintf(stderr, "%s\n", tl_engine_fault(r->engine));
    return -1;
}

void whole_run_end(struct whole_run *r)
{
    if (r->engine != NULL)
        tl_engine_free(r->engine);
    if (r->model != NULL)
        tl_model_free(r->model);
    memset(r, 0, sizeof *r);
}

double whole_run_extent(const struct whole_run *r, int process)
{
    const size_t i = (size_t)process;

    return r->y[r->at->extent_tank + i] + r->y[r->at->extent_chamber + i] +
           r->y[r->at->extent_tower + i];
}
