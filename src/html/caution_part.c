/* What can hurt people and fish. */
#include "build_sheet.h"
#include "document.h"
#include "parts.h"
#include "towerloop/shock.h"

static void item(struct tl_html *h, const char *what, const char *text)
{
    tl_html_open(h, "li");
    tl_html_element(h, "b", what);
    tl_html_text(h, text);
    tl_html_close(h);
}

void tl_part_cautions(struct tl_html *h, const struct tl_scenario *scenario, enum tl_grade grade,
                      enum tl_unit_system units)
{
    struct tl_build_sheet sheet;
    struct tl_text stack = {0};
    tl_build_sheet_of(scenario, &sheet);
    tl_text_addf(&stack,
                 " This one is %s high and weighs about %s wet, up to %s with clogged drains. It "
                 "can topple: set it level on firm ground, brace it, keep children off it.",
                 tl_figure_with_unit(TL_DIM_LENGTH, units, sheet.height_m).text,
                 tl_figure_with_unit(TL_DIM_MASS, units, 1000 * sheet.wet_kg).text,
                 tl_figure_with_unit(TL_DIM_MASS, units, 1000 * sheet.flooded_kg).text);
    tl_html_open(h, "ul");
    item(h, "Mains beside water can kill.",
         " Pumps, aerators and heaters belong on a residual-current (ground-fault) device, "
         "installed by a licensed electrician to your local codes.");
    item(h, "A tall wet stack is heavy.", tl_text_string(&stack));
    item(h, "Chemicals.",
         " Doses in this report are part of a calculation, not advice on handling. Wear gloves, "
         "read the label, dose little at a time, test before and after.");
    if (tl_setup_gives_medicine(&scenario->setup))
        item(h, "Medicine",
             " is for a veterinarian to decide: what it does to fish is not reckoned here. Never "
             "mix, read the label, aerate; not every drug is legal everywhere.");
    item(h, "Fish.",
         grade == TL_WITHIN
             ? " \"Within limits\" is a calculation, not a promise: test the water. Fish that ail "
               "need a veterinarian."
             : " Fish that ail or die need a veterinarian, not a simulation. Test the water "
               "before you act on a number from here.");
    tl_html_close(h);
    h->out.failed = h->out.failed || stack.failed;
    tl_text_free(&stack);
}
