/* Blocks as files: rows of bins are written as steps from bin to bin, seven bits a byte. */
#include "blocks.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "atomic_file.h"
#include "fingerprint.h"
#include "text.h"
#include "towerloop/status.h"

static const char mark[8] = {'t', 'l', 'b', 'l', 'o', 'c', 'k', '3'};
static const char ending[] = ".block", under_way[] = ".block.partial";

enum { DIGITS = 6, FILE_MOST = 64 << 20 };

int tl_block_new(struct tl_block *b, size_t rows)
{
    *b = (struct tl_block){.rows = rows,
                           .bin = calloc(rows * TL_BLOCK_RUNS + 1, sizeof *b->bin),
                           .filled = calloc(rows + 1, sizeof *b->filled)};
    return b->bin && b->filled ? TL_OK : TL_E_MEMORY;
}

int tl_block_add_others(struct tl_block *b, size_t others)
{
    b->other = calloc(TL_BLOCK_RUNS * others * TL_NLIMIT + 1, sizeof *b->other);
    b->others = b->other ? others : 0;
    return b->other ? TL_OK : TL_E_MEMORY;
}

void tl_block_free(struct tl_block *b)
{
    free(b->other);
    free(b->bin);
    free(b->filled);
    b->bin = NULL;
    b->filled = NULL;
    b->other = NULL;
}

void tl_block_name(uint32_t index, char name[TL_BLOCK_NAME_SIZE])
{
    (void)tl_format(name, TL_BLOCK_NAME_SIZE, "%0*u%s", DIGITS, index, ending);
}

bool tl_block_is_name(const char *name)
{
    const size_t digits = strspn(name, "0123456789");
    return digits >= DIGITS &&
           (strcmp(name + digits, ending) == 0 || strcmp(name + digits, under_way) == 0);
}

/* --- writing ------------------------------------------------------------------------------------ */

static void put(struct tl_text *t, uint64_t value, size_t bytes)
{
    for (size_t i = 0; i < bytes; i++) {
        const char byte = (char)(value >> 8 * i & 0xff);
        tl_text_add_bytes(t, &byte, 1);
    }
}

static void put_double(struct tl_text *t, double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    put(t, bits, sizeof bits);
}

static void put_short(struct tl_text *t, uint32_t value)
{
    for (; value > 0x7f; value >>= 7)
        put(t, (value & 0x7f) | 0x80, 1);
    put(t, value, 1);
}

static void put_run(struct tl_text *t, const struct tl_spread_run *r)
{
    put(t,
        (uint64_t)r->known | (uint64_t)r->lost << 1 | (uint64_t)r->impossible << 2 |
            (uint64_t)r->ice << 3 | (uint64_t)r->fish_ice << 4 | (uint64_t)r->grade << 5 |
            (uint64_t)r->unready << 7,
        1);
    put(t, r->outside, 4);
    put_double(t, r->lost_d);
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        put(t, (uint64_t)r->limit[i].judged | (uint64_t)r->limit[i].grade << 1, 1);
        put_double(t, r->limit[i].worst);
        put_double(t, r->limit[i].first_d);
    }
}

/* How many, then for each bin the step to it from the last, twice, plus 1 where more than one value lies in
 * it: then how many follow. */
static void put_row(struct tl_text *t, const uint16_t *bin, size_t filled)
{
    uint32_t last = 0;
    put_short(t, (uint32_t)filled);
    for (size_t i = 0, same; i < filled; i += same) {
        for (same = 1; i + same < filled && bin[i + same] == bin[i];)
            same++;
        put_short(t, (bin[i] - last) << 1 | (same > 1));
        if (same > 1)
            put_short(t, (uint32_t)same);
        last = bin[i];
    }
}

int tl_block_write(const struct tl_block *b, uint64_t study, const char *path)
{
    struct tl_text t = {0};
    struct tl_atomic_file file;

    tl_text_add_bytes(&t, mark, sizeof mark);
    put(&t, study, 8);
    put(&t, b->index, 4);
    put(&t, b->runs, 4);
    put(&t, b->rows, 4);
    for (size_t i = 0; i < b->runs; i++)
        put_run(&t, &b->run[i]);
    for (size_t i = 0; i < b->rows; i++)
        put_row(&t, b->bin + i * TL_BLOCK_RUNS, b->filled[i]);
    for (size_t i = 0; i < b->runs * b->others * TL_NLIMIT; i++)
        put_double(&t, b->other[i]);
    put(&t, t.failed ? 0 : tl_fingerprint(TL_FINGERPRINT_START, t.data, t.length), 8);
    int status = t.failed ? TL_E_MEMORY : tl_atomic_open(&file, path);
    if (!status) {
        fwrite(t.data, 1, t.length, file.f);
        status = tl_atomic_commit(&file);
    }
    const int reason = errno;
    tl_text_free(&t);
    errno = reason;
    return status;
}

/* --- reading ------------------------------------------------------------------------------------ */

struct source {
    const unsigned char *byte;
    size_t left;
    bool bad;
};

static uint64_t take(struct source *s, size_t bytes)
{
    uint64_t value = 0;
    if (s->left < bytes) {
        s->bad = true;
        return 0;
    }
    for (size_t i = 0; i < bytes; i++)
        value |= (uint64_t)s->byte[i] << 8 * i;
    s->byte += bytes;
    s->left -= bytes;
    return value;
}

static double take_double(struct source *s)
{
    const uint64_t bits = take(s, sizeof bits);
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static uint32_t take_short(struct source *s)
{
    uint32_t value = 0;
    for (unsigned shift = 0; shift <= 28 && !s->bad; shift += 7) {
        const uint32_t byte = (uint32_t)take(s, 1);
        value |= (byte & 0x7f) << shift;
        if (byte < 0x80)
            return value;
    }
    s->bad = true;
    return 0;
}

static enum tl_grade take_grade(struct source *s, uint64_t value)
{
    s->bad |= value > TL_DANGER;
    return value > TL_DANGER ? TL_DANGER : (enum tl_grade)value;
}

static void take_run(struct source *s, struct tl_spread_run *r)
{
    const uint64_t flags = take(s, 1);
    r->known = flags & 1;
    r->lost = (flags >> 1 & 1) != 0;
    r->impossible = (flags >> 2 & 1) != 0;
    r->ice = (flags >> 3 & 1) != 0;
    r->fish_ice = (flags >> 4 & 1) != 0;
    r->grade = take_grade(s, flags >> 5 & 3);
    r->unready = (flags >> 7 & 1) != 0;
    r->outside = (uint32_t)take(s, 4);
    r->lost_d = take_double(s);
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const uint64_t how = take(s, 1);
        r->limit[i].judged = how & 1;
        r->limit[i].grade = take_grade(s, how >> 1);
        r->limit[i].worst = take_double(s);
        r->limit[i].first_d = take_double(s);
    }
}

static uint8_t take_row(struct source *s, uint16_t *bin)
{
    const uint32_t filled = take_short(s);
    uint32_t last = 0;
    s->bad |= filled > TL_BLOCK_RUNS;
    for (uint32_t i = 0; i < filled && !s->bad;) {
        const uint32_t step = take_short(s);
        const uint32_t same = step & 1 ? take_short(s) : 1;
        last += step >> 1;
        s->bad |= same == 0 || same > filled - i || last > UINT16_MAX;
        for (uint32_t k = 0; k < same && !s->bad; k++)
            bin[i++] = (uint16_t)last;
    }
    return s->bad ? 0 : (uint8_t)filled;
}

/* Whether the file is whole and its own is what follows in it. */
static bool is_whole(const char *data, size_t length)
{
    if (length < sizeof mark + 8 || memcmp(data, mark, sizeof mark) != 0)
        return false;
    struct source sum = {(const unsigned char *)data + length - 8, 8, false};
    return take(&sum, 8) == tl_fingerprint(TL_FINGERPRINT_START, data, length - 8);
}

int tl_block_read(struct tl_block *b, uint64_t study, const char *path)
{
    char *data = NULL;
    size_t length = 0;
    int status = tl_read_plain_file(path, FILE_MOST, &data, &length);
    if (status != TL_OK)
        return status == TL_E_MEMORY ? status : TL_E_INPUT;
    struct source s = {(const unsigned char *)data + sizeof mark, 0, !is_whole(data, length)};
    s.left = s.bad ? 0 : length - sizeof mark - 8;
    s.bad |= take(&s, 8) != study || take(&s, 4) != b->index || take(&s, 4) != b->runs ||
             take(&s, 4) != b->rows || b->runs > TL_BLOCK_RUNS;
    for (size_t i = 0; i < b->runs && !s.bad; i++)
        take_run(&s, &b->run[i]);
    for (size_t i = 0; i < b->rows && !s.bad; i++)
        b->filled[i] = take_row(&s, b->bin + i * TL_BLOCK_RUNS);
    for (size_t i = 0; i < b->runs * b->others * TL_NLIMIT && !s.bad; i++)
        b->other[i] = take_double(&s);
    status = s.bad || s.left > 0 ? TL_E_INPUT : TL_OK;
    free(data);
    return status;
}
