/* Characters that no font of this machine has. In a PNG or PDF picture each would be a box so large that
 * it covers what is drawn; an SVG picture leaves them to the fonts of its reader. */
#ifndef TOWERLOOP_REPORT_GLYPHS_H
#define TOWERLOOP_REPORT_GLYPHS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { TL_GLYPHS = 256 }; /* different ones; what is beyond them counts as missing */

struct tl_glyphs {
    struct tl_glyph {
        uint32_t character;
        bool covered;
    } glyph[TL_GLYPHS]; /* the rare ones of the scripts; in the order in which they were found */
    size_t n;
    bool beyond; /* there were more */
};

/* Looks through the gnuplot scripts of a folder and asks the machine's list of fonts about what is rare
 * in them. Where there is no such list all of that counts as missing. TL_OK, TL_E_IO or TL_E_MEMORY. */
int tl_glyphs_find(const char *folder, const volatile int *interrupted, struct tl_glyphs *out);
bool tl_glyphs_any_missing(const struct tl_glyphs *g);
/* The missing ones, as many as there is room for. */
void tl_glyphs_tell(const struct tl_glyphs *g, char *utf8, size_t size);
/* Writes the scripts of the folder again, with "?" for what is missing. Fails as above. */
int tl_glyphs_take_out(const struct tl_glyphs *g, const char *folder);

#endif
