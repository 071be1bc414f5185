/* What limits, what helps, and what it costs. */
#include <math.h>

#include "costs.h"
#include "document.h"
#include "parts.h"
#include "towerloop/status.h"

static void say_cost(struct tl_html *h, const char *what, double amount, const char *currency)
{
    if (isnan(amount))
        return;
    tl_html_open(h, "li");
    tl_html_textf(h, "%s: %.2f ", what, amount);
    tl_html_element(h, "bdi", currency);
    tl_html_close(h);
}

/* By the prices that the scenario gives. */
static int say_costs(struct tl_html *h, const struct tl_run_data *d)
{
    const struct tl_scenario *s = d->report->scenario;
    struct tl_amounts run, month;
    struct tl_bill bill;
    int status = tl_amounts_of(s, &d->result.given, &run);
    if (status == TL_OK)
        status = tl_amounts_of_month(s, &d->result.given_a_month, &month);
    if (status != TL_OK)
        return status;
    tl_bill_of(s, &run, &month, d->result.grade == TL_WITHIN, &bill);
    if (isnan(bill.whole_run)) {
        tl_html_classed(h, "p", "note",
                        "The scenario names no prices, so no costs are counted; its section "
                        "costs takes them.");
        return TL_OK;
    }
    tl_html_classed(
        h, "p", "note",
        "Costs count what the section costs of the scenario names; the price of another "
        "pump, aerator or fish, and what they use more, is not in it. A month: the last 30 days "
        "with "
        "fish; a heater by its dearest 30 days.");
    tl_html_element(h, "h3", "What the loop costs as it is");
    tl_html_open(h, "ul");
    say_cost(h, "To build", bill.build, s->costs.currency);
    say_cost(h, "A month", bill.month, s->costs.currency);
    say_cost(h, "All of the run", bill.running, s->costs.currency);
    say_cost(h, "Built and run to the end", bill.whole_run, s->costs.currency);
    tl_html_close(h);
    return TL_OK;
}

/* "To build it costs 12.00 EUR more." */
static void say_price(struct tl_html *h, const json_t *advice, const char *key, const char *what,
                      const char *currency)
{
    const json_t *price = json_object_get(advice, key);
    const double more = json_is_number(price) ? json_number_value(price) : NAN;
    if (isnan(more))
        return;
    tl_html_text(h, " ");
    if (fabs(more) < 0.005)
        tl_html_textf(h, "%s no more.", what);
    else
        tl_html_textf(h, "%s %.2f %s %s.", what, fabs(more), currency, more > 0 ? "more" : "less");
}

static void say_lever(struct tl_html *h, const json_t *advice, const struct tl_scenario *s)
{
    const char *currency = s->costs.currency;
    char run[64];
    const char *lever = json_string_value(json_object_get(advice, "lever"));
    const char *because = json_string_value(json_object_get(advice, "because"));
    tl_html_open(h, "li");
    tl_html_element(h, "b", lever ? lever : "");
    tl_html_textf(h, ": %s.", because ? because : "");
    say_price(h, advice, "cost_to_build_more", "To build it costs", currency);
    tl_format(run, sizeof run, "To run it these %.4g days costs", s->setup.length_d);
    say_price(h, advice, "cost_over_run_more", run, currency);
    tl_html_close(h);
}

/* No limit was passed: a caution is for something else. */
static bool limits_kept(const struct tl_run_data *d)
{
    bool kept = d->result.grade != TL_DANGER;
    for (int i = 0; i < TL_NLIMIT; i++)
        kept = kept && d->result.limit[i].grade == TL_WITHIN;
    return kept;
}

int tl_part_advice(struct tl_html *h, const struct tl_run_data *d)
{
    const json_t *advice = tl_run_data_at(d, "advice"), *lever;
    const char *limiting = tl_run_data_text(d, "limiting");
    size_t i;
    if (*limiting) {
        tl_html_open(h, "p");
        tl_html_textf(h, "What limits: %s.", limiting);
        tl_html_close(h);
    }
    if (json_array_size(advice) > 0) {
        tl_html_element(h, "p",
                        "What helps, best first. Each was tried in a run of its own with that one "
                        "change:");
        tl_html_open(h, "ol");
        tl_html_attribute(h, "class", "advice");
        json_array_foreach(advice, i, lever) say_lever(h, lever, d->report->scenario);
        tl_html_close(h);
    } else if (d->result.grade == TL_WITHIN) {
        tl_html_element(h, "p", "Nothing has to change: every limit was kept.");
    } else if (limits_kept(d)) {
        tl_html_element(h, "p",
                        "Every limit was kept. The caution is for something beside the limits: "
                        "see the answer.");
    } else {
        tl_html_element(h, "p",
                        "No lever that was tried helps enough by itself. Fewer fish or less feed "
                        "always leave more to spare.");
    }
    return say_costs(h, d);
}
