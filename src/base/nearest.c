/* Which known word a mistyped one stands for: the least number of edits (optimal string alignment:
 * insert, delete, change, swap neighbours), capitals ignored. */
#include "text.h"

#include <string.h>

#define LONGEST 48

static int lower(char c)
{
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c;
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

static size_t edits(const char *a, size_t na, const char *b, size_t nb)
{
    size_t row[3][LONGEST + 1]; /* the last three rows of the table, by i modulo 3 */
    for (size_t j = 0; j <= nb; j++)
        row[0][j] = j;
    for (size_t i = 1; i <= na; i++) {
        size_t *now = row[i % 3];
        const size_t *before = row[(i + 2) % 3];
        now[0] = i;
        for (size_t j = 1; j <= nb; j++) {
            size_t change = lower(a[i - 1]) != lower(b[j - 1]);
            size_t d = least(least(before[j] + 1, now[j - 1] + 1), before[j - 1] + change);
            if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
                lower(a[i - 2]) == lower(b[j - 1]))
                d = least(d, row[(i + 1) % 3][j - 2] + 1);
            now[j] = d;
        }
    }
    return row[na % 3][nb];
}

int tl_nearest(const char *word, const char *const *candidate, size_t n)
{
    size_t length = strlen(word);
    int best = -1;
    /* more edits than that is another word; in two letters one edit is: KH is not pH */
    size_t fewest = length < 3 ? 0 : 1 + length / 4;
    if (length == 0 || length > LONGEST)
        return -1;
    for (size_t i = 0; i < n; i++) {
        size_t other = strlen(candidate[i]);
        if (other > LONGEST)
            continue;
        size_t d = edits(word, length, candidate[i], other);
        if (d < least(length, other) && (d < fewest || (d == fewest && best < 0))) {
            fewest = d;
            best = (int)i;
        }
    }
    return best;
}
