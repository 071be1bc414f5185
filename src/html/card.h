/* The emergency card: one sheet for the wall beside the tank, as a page and as text. What stands on it is
 * put together once, so both say the same. */
#ifndef TL_HTML_CARD_H
#define TL_HTML_CARD_H

#include <stddef.h>

#include "text.h"

#define TL_CARD_FILE "card.html"

/* id, for the page's id, heading, columns. The first row of TIMES is its head. */
#define TL_CARD_PART_LIST(X)                                                                       \
    X(TL_CARD_CARE, "care", "Before you touch anything", 1)                                        \
    X(TL_CARD_TIMES, "times", "How long the fish have", 4)                                         \
    X(TL_CARD_STEPS, "steps", "What to do first", 2)                                               \
    X(TL_CARD_TESTS, "tests", "When a test is bad", 2)                                             \
    X(TL_CARD_BASIS, "basis", "What this rests on", 1)

enum tl_card_part_id {
#define TL_CARD_ENUM(id, name, heading, columns) id,
    TL_CARD_PART_LIST(TL_CARD_ENUM)
#undef TL_CARD_ENUM
        TL_NCARD_PART
};

/* What is left blank for a pen. */
#define TL_CARD_BLANK_LIST(X)                                                                      \
    X("Veterinarian")                                                                              \
    X("Neighbour with a key")                                                                      \
    X("Electrician")                                                                               \
    X("The switch board is")                                                                       \
    X("The spare aerator is")                                                                      \
    X("Hung up on")

enum { TL_CARD_ROWS = 12, TL_CARD_COLUMNS = 4 };

struct tl_card_part {
    struct tl_text cell[TL_CARD_ROWS][TL_CARD_COLUMNS];
    size_t rows;
    struct tl_text note; /* below it; empty: none */
};

/* All zero is an empty card. */
struct tl_card {
    const char *title; /* the user's; outlives the card */
    struct tl_text loop;
    struct tl_card_part part[TL_NCARD_PART];
};

const char *tl_card_heading(enum tl_card_part_id id);
size_t tl_card_columns(enum tl_card_part_id id);
void tl_card_free(struct tl_card *c);

/* Write it as one page of HTML to `path`, where it appears when whole. TL_OK, TL_E_IO (errno says why) or
 * TL_E_MEMORY. */
int tl_card_page(const struct tl_card *c, const char *path);

#endif
