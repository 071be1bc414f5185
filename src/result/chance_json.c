/* The chances of a spread, for summary.json and for the page. */
#include "chance_json.h"

static json_t *share(const struct tl_spread_chance *c)
{
    return json_pack("{s:I, s:I, s:f, s:f, s:s}", "runs", (json_int_t)c->runs, "of",
                     (json_int_t)c->of, "low", c->low, "high", c->high, "text", c->text);
}

json_t *tl_chance_json(const struct tl_spread_verdict *v, const char *own)
{
    return json_pack("{s:I, s:I, s:s, s:s, s:o, s:o}", "runs", (json_int_t)v->runs, "inputs",
                     (json_int_t)v->inputs, "verdict", tl_grade_text(v->grade), "own_verdict", own,
                     "within_limits", share(&v->within), "danger", share(&v->danger));
}
