/* Numbers with units as people write them, by one table of units. */
#include "towerloop/units.h"

#include <math.h>
#include <string.h>

#include "text.h"
#include "towerloop/status.h"
#include "unit_rows.h"
#include "unit_table.h"

#define NUMBER_SIZE 400 /* room for any double written out in full */

#define ROW(spelling, multiply, divide, offset)    {spelling, multiply, divide, offset},
#define LISTED(spelling, multiply, divide, offset) ", " spelling
#define SILENT(spelling, multiply, divide, offset)
#define ROWS(dim)                                                                                  \
    (const struct tl_unit[])                                                                       \
    {                                                                                              \
        TL_UNITS_##dim(ROW, ROW)                                                                   \
    }
#define UNITS(dim)                                                                                 \
    [TL_DIM_##dim] = {ROWS(dim), sizeof ROWS(dim) / sizeof(struct tl_unit),                        \
                      "" TL_UNITS_##dim(LISTED, SILENT)}

/* clang-format off */
const struct tl_unit_rows tl_unit_rows[TL_NDIM] = {
    UNITS(NUMBER),           UNITS(FRACTION),         UNITS(TIME),
    UNITS(RATE),             UNITS(LENGTH),           UNITS(AREA),
    UNITS(VOLUME),           UNITS(FLOW),             UNITS(TEMPERATURE),
    UNITS(TEMPERATURE_SPAN), UNITS(MASS),             UNITS(MASS_FLOW),
    UNITS(CONC),             UNITS(CONC_N),           UNITS(CONC_COD),
    UNITS(ALKALINITY),       UNITS(SPECIFIC_SURFACE), UNITS(VELOCITY),
    UNITS(SURFACE_TENSION),  UNITS(PER_LENGTH),       UNITS(FILM),
    UNITS(YIELD_N),          UNITS(YIELD_COD),        UNITS(N_CONTENT),
    UNITS(KILL),             UNITS(SLOUGH),           UNITS(PER_MASS),
    UNITS(COD_PER_MASS),     UNITS(N_PER_FISH),       UNITS(FISH_RATE),
    UNITS(AIR_SHARE),        UNITS(POWER),            UNITS(ENERGY),
    UNITS(AERATION),         UNITS(ENERGY_PRICE),     UNITS(MASS_PRICE),
    UNITS(VOLUME_PRICE),     UNITS(BULK_DENSITY),     UNITS(SPEED),
    UNITS(ANGLE),            UNITS(HEAT_LOSS),        UNITS(LIGHT),
    UNITS(EXTINCTION),       UNITS(DIFFUSIVITY),
};
/* clang-format on */

static const struct {
    const char *base, *name;
} dimensions[TL_NDIM] = {
#define DIMENSION(id, base, name) [id] = {base, name},
    TL_DIM_LIST(DIMENSION)
#undef DIMENSION
};

/* What a reader of each system expects, where it is not the base unit. */
static const struct {
    const char *metric, *us;
} display[TL_NDIM] = {
    [TL_DIM_FRACTION] = {"%", "%"},
    [TL_DIM_LENGTH] = {"m", "ft"},
    [TL_DIM_AREA] = {"m2", "ft2"},
    [TL_DIM_VOLUME] = {"m3", "gal"},
    [TL_DIM_FLOW] = {"m3/h", "gal/h"},
    [TL_DIM_TEMPERATURE] = {"degC", "degF"},
    [TL_DIM_TEMPERATURE_SPAN] = {"degC", "degF"},
    [TL_DIM_MASS] = {"g", "lb"},
    [TL_DIM_MASS_FLOW] = {"g/d", "lb/d"},
    [TL_DIM_CONC] = {"mg/L", "mg/L"},
    [TL_DIM_CONC_COD] = {"mg/L as COD", "mg/L as COD"},
    [TL_DIM_ALKALINITY] = {"mg/L as CaCO3", "mg/L as CaCO3"},
    [TL_DIM_SPECIFIC_SURFACE] = {"m2/m3", "ft2/ft3"},
    [TL_DIM_VELOCITY] = {"m/d", "ft/d"},
    [TL_DIM_MASS_PRICE] = {"per kg", "per lb"},
    [TL_DIM_VOLUME_PRICE] = {"per m3", "per gal"},
    [TL_DIM_BULK_DENSITY] = {"kg/m3", "lb/ft3"},
    [TL_DIM_SPEED] = {"m/s", "mph"},
    [TL_DIM_HEAT_LOSS] = {"W/m2/K", "Btu/h/ft2/degF"},
};

/* Where another unit reads better, from a value (base unit) to below another. */
static const struct {
    enum tl_dim dim;
    enum tl_unit_system system;
    double from, below;
    const char *unit;
} better[] = {
    {TL_DIM_LENGTH, TL_METRIC, 0, 0.5, "mm"}, {TL_DIM_LENGTH, TL_US, 0, 1.5 * M_PER_FT, "in"},
    {TL_DIM_VOLUME, TL_METRIC, 0, 1, "L"},    {TL_DIM_MASS, TL_METRIC, 1000, INFINITY, "kg"},
    {TL_DIM_MASS, TL_US, 0, G_PER_LB, "oz"},
};

/* Words of a unit and the short form the table has. */
/* clang-format off */
const struct tl_unit_word tl_unit_words[] = {
    {"per", "/"},        {"percent", "%"},    {"us", ""},          {"metre", "m"},
    {"metres", "m"},     {"meter", "m"},      {"meters", "m"},     {"inch", "in"},
    {"inches", "in"},    {"foot", "ft"},      {"feet", "ft"},      {"litre", "L"},
    {"litres", "L"},     {"liter", "L"},      {"liters", "L"},     {"gallon", "gal"},
    {"gallons", "gal"},  {"imperial", "imp"}, {"uk", "imp"},       {"hour", "h"},
    {"hours", "h"},      {"hr", "h"},         {"hrs", "h"},        {"day", "d"},
    {"days", "d"},       {"minute", "min"},   {"minutes", "min"},  {"mins", "min"},
    {"second", "s"},     {"seconds", "s"},    {"sec", "s"},        {"weeks", "week"},
    {"wk", "week"},      {"gram", "g"},       {"grams", "g"},      {"kilogram", "kg"},
    {"kilograms", "kg"}, {"kgs", "kg"},       {"pound", "lb"},     {"pounds", "lb"},
    {"lbs", "lb"},       {"ounce", "oz"},     {"ounces", "oz"},    {"square", "sq"},
    {"cubic", "cu"},     {"celsius", "C"},    {"fahrenheit", "F"}, {"degree", "deg"},
    {"degrees", "deg"},  {"kelvin", "K"},     {NULL, NULL},
};
/* clang-format on */

/* Signs that stand for plain ones. */
/* clang-format off */
const struct tl_unit_word tl_unit_signs[] = {
    {"\xc2\xb2", "2"}, {"\xc2\xb3", "3"}, {"\xc2\xb0", "deg"},   {"\xc2\xb5", "u"},
    {"\xce\xbc", "u"}, {"\xc2\xa0", " "}, {"\xe2\x80\xaf", " "}, {"^", ""},
    {NULL, NULL},
};
/* clang-format on */

bool tl_unit_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

bool tl_unit_same(const char *a, const char *b, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        int fold = tl_unit_letter(a[i]) && tl_unit_letter(b[i]) ? 0x20 : 0;
        if ((a[i] | fold) != (b[i] | fold))
            return false;
        if (a[i] == '\0')
            break;
    }
    return true;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* The short form of the word or sign at `s` (NULL: itself), and how many bytes it stands for. */
static const char *short_form(const char *s, size_t *length)
{
    for (const struct tl_unit_word *sign = tl_unit_signs; sign->word; sign++) {
        *length = strlen(sign->word);
        if (strncmp(s, sign->word, *length) == 0)
            return sign->is;
    }
    *length = 0;
    while (tl_unit_letter(s[*length]))
        (*length)++;
    for (const struct tl_unit_word *w = tl_unit_words; w->word && *length > 0; w++)
        if (strlen(w->word) == *length && tl_unit_same(s, w->word, *length))
            return w->is;
    if (*length == 0)
        *length = 1;
    return NULL;
}

bool tl_unit_normalise(const char *s, char out[TL_SPELLING_SIZE])
{
    size_t n = 0;
    while (*s) {
        size_t used;
        const char *is = short_form(s, &used);
        size_t length = is ? strlen(is) : used;
        if (!is)
            is = s;
        if (n + length + 1 > TL_SPELLING_SIZE)
            return false;
        if (length > 0 && (*is == ' ' || *is == '\t')) {
            if (n > 0 && out[n - 1] != ' ' && out[n - 1] != '/')
                out[n++] = ' ';
        } else {
            if (length > 0 && *is == '/' && n > 0 && out[n - 1] == ' ')
                n--;
            memcpy(out + n, is, length);
            n += length;
        }
        s += used;
    }
    if (n > 0 && out[n - 1] == ' ')
        n--;
    out[n] = '\0';
    return true;
}

static const struct tl_unit *find_unit(enum tl_dim dim, const char *spelling)
{
    char wanted[TL_SPELLING_SIZE];
    char have[TL_SPELLING_SIZE];
    if (!tl_unit_normalise(spelling, wanted))
        return NULL;
    for (size_t i = 0; i < tl_unit_rows[dim].rows; i++)
        if (tl_unit_normalise(tl_unit_rows[dim].row[i].spelling, have) &&
            tl_unit_same(wanted, have, TL_SPELLING_SIZE))
            return &tl_unit_rows[dim].row[i];
    return NULL;
}

const char *tl_dim_base_unit(enum tl_dim dim)
{
    return dimensions[dim].base;
}

const char *tl_dim_name(enum tl_dim dim)
{
    return dimensions[dim].name;
}

const char *tl_dim_units(enum tl_dim dim)
{
    return tl_unit_rows[dim].listed + strlen(", ");
}

const char *tl_display_unit(enum tl_dim dim, enum tl_unit_system system)
{
    const char *unit = system == TL_US ? display[dim].us : display[dim].metric;
    return unit ? unit : dimensions[dim].base;
}

static double value_in(const struct tl_unit *u, double base_value)
{
    return u ? base_value * u->divide / u->multiply - u->offset : base_value;
}

double tl_display_value(enum tl_dim dim, enum tl_unit_system system, double base_value)
{
    return value_in(find_unit(dim, tl_display_unit(dim, system)), base_value);
}

/* The unit in which a time is at least 1, of those that messages name; weeks are left out. */
static const struct tl_unit *suitable_time(double days)
{
    const struct tl_unit_rows *times = &tl_unit_rows[TL_DIM_TIME];
    const struct tl_unit *u = times->row;
    for (size_t i = 1; i < times->rows && days > 0 && days < u->multiply / u->divide; i++)
        if (times->row[i].multiply / times->row[i].divide < 1)
            u = &times->row[i];
    return u;
}

/* Of nothing the solver leaves a little, of either sign: nobody is told of it. Much less than nothing is not
 * that little. */
#define LITTLE_LESS (-1e-4)
#define LITTLE_MORE 1e-7

void tl_display_text(enum tl_dim dim, enum tl_unit_system system, double base_value, int digits,
                     char *text, size_t size)
{
    char rounded[NUMBER_SIZE];
    const char *unit = tl_display_unit(dim, system);
    if (dim == TL_DIM_TIME)
        unit = suitable_time(base_value)->spelling;
    for (size_t i = 0; i < sizeof better / sizeof *better; i++)
        if (better[i].dim == dim && better[i].system == system && base_value > 0 &&
            base_value >= better[i].from && base_value < better[i].below)
            unit = better[i].unit;
    const double value = value_in(find_unit(dim, unit), base_value);
    const double told = value > LITTLE_LESS && value < LITTLE_MORE ? 0 : value;
    tl_format(rounded, sizeof rounded, "%.*e", digits - 1, told);
    tl_format(text, size, "%.10g%s%s", tl_strtod(rounded, NULL), *unit ? " " : "", unit);
}

size_t tl_parse_number(const char *text, double *value)
{
    const char *s = text;
    size_t digits = 0;
    if (*s == '+' || *s == '-')
        s++;
    for (; is_digit(*s); s++)
        digits++;
    if (*s == '.')
        for (s++; is_digit(*s); s++)
            digits++;
    if (digits == 0)
        return 0;
    if (*s == 'e' || *s == 'E') {
        const char *e = s + 1;
        if (*e == '+' || *e == '-')
            e++;
        if (is_digit(*e)) {
            while (is_digit(*e))
                e++;
            s = e;
        }
    }

    char number[NUMBER_SIZE];
    size_t length = (size_t)(s - text);
    char *end = number;
    *value = NAN;
    if (length < sizeof number) {
        memcpy(number, text, length);
        number[length] = '\0';
        *value = tl_strtod(number, &end);
    }
    return length;
}

/* At most 40 bytes of what the user wrote, in quotation marks. */
static void quote(char out[TL_SPELLING_SIZE], const char *text)
{
    size_t n = tl_utf8_cut(text, 40);
    tl_format(out, TL_SPELLING_SIZE, "\"%.*s%s\"", (int)n, text, text[n] ? "..." : "");
}

static void explain_unit(char *what, size_t size, const char *text, const char *unit,
                         enum tl_dim dim)
{
    char quoted[TL_SPELLING_SIZE];
    quote(quoted, text);
    if (*unit == '\0') {
        tl_format(what, size, "%s has no unit", quoted);
        return;
    }
    if (*unit == ',') {
        tl_format(what, size, "%s has a comma; write a decimal point and no separators", quoted);
        return;
    }
    if ((dim == TL_DIM_CONC_N || dim == TL_DIM_ALKALINITY || dim == TL_DIM_CONC_COD) &&
        find_unit(TL_DIM_CONC, unit)) {
        tl_format(what, size, "%s does not say as what", quoted);
        return;
    }
    for (enum tl_dim other = TL_DIM_FRACTION; other < TL_NDIM; other++) {
        if (find_unit(other, unit)) {
            tl_format(what, size, "%s is %s, not %s", quoted, dimensions[other].name,
                      dimensions[dim].name);
            return;
        }
    }
    char name[TL_SPELLING_SIZE];
    quote(name, unit);
    tl_format(what, size, "%s has an unknown unit %s", quoted, name);
}

int tl_parse_quantity(const char *text, enum tl_dim dim, double *base_value, char *what,
                      char *expected, size_t size)
{
    double number;
    while (*text == ' ')
        text++;
    size_t used = tl_parse_number(text, &number);
    const char *unit = text + used;
    while (*unit == ' ')
        unit++;

    const struct tl_unit *u = used > 0 ? find_unit(dim, unit) : NULL;
    if (u && isfinite(number)) {
        double value = (number + u->offset) * u->multiply / u->divide;
        if (isfinite(value)) {
            *base_value = value;
            return TL_OK;
        }
    }

    char quoted[TL_SPELLING_SIZE];
    quote(quoted, text);
    if (used == 0)
        tl_format(what, size, "%s is not a number", quoted);
    else if (u)
        tl_format(what, size, "%s is too large a number", quoted);
    else
        explain_unit(what, size, text, unit, dim);
    if (dim == TL_DIM_NUMBER)
        tl_format(expected, size, "%s", dimensions[dim].name);
    else
        tl_format(expected, size, "%s in %s", dimensions[dim].name, tl_dim_units(dim));
    return TL_E_INPUT;
}
