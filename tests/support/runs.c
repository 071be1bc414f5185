#include "runs.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "towerloop/status.h"

struct run start_run(const struct tl_setup *s, double rtol, const struct tl_observer *o,
                     size_t observers)
{
    struct run r = {0};
    struct tl_engine_options options = {.rtol = rtol, .observer = o, .observers = observers};
    assert_int_equal(tl_model_build(s, &r.model), TL_OK);
    assert_int_equal(tl_engine_new(r.model, &options, &r.engine), TL_OK);
    r.at = tl_model_layout(r.model);
    r.y = tl_engine_state(r.engine);
    return r;
}

struct run whole_run(const struct tl_setup *s, double rtol, const struct tl_observer *o,
                     size_t observers)
{
    struct run r = start_run(s, rtol, o, observers);
    int status = tl_engine_advance(r.engine, INFINITY);
    if (status)
        print_error("%s\n", tl_engine_fault(r.engine));
    assert_int_equal(status, TL_OK);
    return r;
}

void end_run(struct run *r)
{
    tl_engine_free(r->engine);
    tl_model_free(r->model);
}
