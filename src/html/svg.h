/* A plotter's SVG picture made fit to stand inside a page. */
#ifndef TL_HTML_SVG_H
#define TL_HTML_SVG_H

#include "writer.h"

struct tl_svg_names {
    const char *prefix; /* goes before every id, so that those of two pictures differ */
    const char *title;  /* the picture's name for those who hear the page */
    const char *description;
};

/* Adds the picture to the page. Only elements and attributes that draw are taken over, each written anew
 * by the page's own writer: no script, no link, no font, no style, nothing from elsewhere. What the plotter
 * calls it, its own title, and the background that covers all of it are left out. TL_OK; TL_E_CHART when
 * it is no SVG that can be understood: nothing is added then; TL_E_MEMORY. */
int tl_html_svg(struct tl_html *h, const char *svg, size_t length,
                const struct tl_svg_names *names);

#endif
