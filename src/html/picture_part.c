/* One chart of the plotter in a figure. */
#include <errno.h>
#include <stdlib.h>

#include "parts.h"
#include "svg.h"
#include "text.h"
#include "towerloop/status.h"

#define LARGEST ((size_t)64 << 20)

static int add_picture(struct tl_html *h, const struct tl_report *r, const char *name,
                       const char *caption, const char *description)
{
    struct tl_text path = {0};
    char *svg = NULL;
    size_t length = 0;
    tl_text_addf(&path, "%s/%s.svg", r->charts, name);
    errno = 0;
    int status = path.failed ? TL_E_MEMORY : tl_read_plain_file(path.data, LARGEST, &svg, &length);
    if (status == TL_OK) {
        const struct tl_svg_names names = {name, caption, description};
        status = tl_html_svg(h, svg, length, &names);
    }
    free(svg);
    tl_text_free(&path);
    if (status == TL_E_IO && errno != ENOENT) /* it is there */
        return status;
    return status == TL_OK || status == TL_E_MEMORY ? status : TL_E_CHART;
}

int tl_part_picture(struct tl_html *h, const struct tl_report *r, const char *name,
                    const char *caption, const char *description)
{
    int status = TL_E_CHART;
    tl_html_open(h, "figure");
    tl_html_open(h, "figcaption");
    tl_html_element(h, "h3", caption);
    tl_html_close(h);
    if (r->charts) {
        tl_html_open(h, "div");
        tl_html_attribute(h, "class", "plate chart");
        tl_html_attribute(h, "role", "group");
        tl_html_attribute(h, "tabindex", "0");
        tl_html_attributef(h, "aria-label", "Chart: %s", caption);
        status = add_picture(h, r, name, caption, description);
        if (status != TL_OK)
            tl_html_element(h, "p", "This chart was not drawn.");
        tl_html_close(h);
    }
    return status;
}
