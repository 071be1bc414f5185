/* What the scenario asks for, said back. */
#include "parts.h"

void tl_part_asked(struct tl_html *h, const struct tl_report *r)
{
    tl_html_element(h, "p",
                    "Would the water of this loop stay within limits that fish can live with? This "
                    "is what was simulated:");
    tl_html_open(h, "dl");
    tl_html_attribute(h, "class", "asked");
    for (size_t i = 0; i < r->told[0].lines; i++) {
        const struct tl_asked *line = &r->told[0].line[i];
        if (*line->label)
            tl_html_element(h, "dt", line->label);
        tl_html_users(h, "dd", line->text);
    }
    tl_html_close(h);
}
