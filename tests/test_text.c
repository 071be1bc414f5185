/* Columns of a terminal, whatever the locale: against the character widths of Unicode. */
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <wchar.h>

#include <cmocka.h>

#include "text.h"

static void test_columns_of_characters(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t columns;
    } row[] = {
        {"", 0},
        {"koi", 3},
        {"B\xc3\xa4rbel", 6},              /* a with two dots */
        {"Ba\xcc\x88rbel", 6},             /* the dots as a mark of their own */
        {"\xe9\xaf\x89", 2},               /* CJK ideograph */
        {"\xe3\x82\xb3\xe3\x82\xa4 1", 6}, /* two katakana, a blank, a digit */
        {"\xed\x95\x9c\xea\xb8\x80", 4},   /* two Hangul syllables */
        {"\xef\xbd\xba\xef\xbd\xb2", 2},   /* half-width katakana */
        {"\xef\xbc\xa1", 2},               /* full-width A */
        {"\xe2\x82\xac 5", 3},             /* the euro: three bytes, one column */
        {"\xf0\x9f\x90\x9f", 2},           /* a fish */
        {"\xf0\xa0\x80\x80", 2},           /* an ideograph of plane 2 */
        {"\xff\xfe", 2},                   /* no UTF-8: a column a byte */
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++)
        assert_int_equal(tl_utf8_width(row[i].text), row[i].columns);
}

/* Every character that C's own wcwidth() has an opinion on, where a UTF-8 locale is there; it knows more
 * blocks than ours, so those of the scripts that keepers write names in are what is compared. */
static void test_agrees_with_the_library_of_c(void **state)
{
    (void)state;
    static const struct {
        wchar_t first, last;
    } block[] = {{0x20, 0x7e},     {0xa1, 0xac},     {0xae, 0x2ff},    {0x300, 0x36f},
                 {0x370, 0x373},   {0x400, 0x482},   {0x3041, 0x3096}, {0x30a0, 0x30ff},
                 {0x4e00, 0x9fa5}, {0xac00, 0xd7a3}, {0xff01, 0xff60}, {0xff66, 0xff9d}};
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        skip();
    for (size_t i = 0; i < sizeof block / sizeof *block; i++)
        for (wchar_t c = block[i].first; c <= block[i].last; c++) {
            char text[8];
            mbstate_t mb = {0};
            const size_t n = wcrtomb(text, c, &mb);
            assert_true(n > 0 && n < sizeof text);
            text[n] = '\0';
            assert_int_equal(tl_utf8_width(text), wcwidth(c));
        }
    setlocale(LC_CTYPE, "C");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_columns_of_characters),
        cmocka_unit_test(test_agrees_with_the_library_of_c),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
