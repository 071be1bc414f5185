/* The report's parts: HTML that cannot be broken out of, a plotter's picture taken in, charts as numbers. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "chart_table.h"
#include "document.h"
#include "near.h"
#include "numbers.h"
#include "svg.h"
#include "towerloop/status.h"
#include "writer.h"

/* --- the writer ----------------------------------------------------------------------------------- */

static void escapes_texts_and_attributes(void **state)
{
    (void)state;
    struct tl_html h = {.depth = 0};
    tl_html_open(&h, "p");
    tl_html_attribute(&h, "title", "\"><script>'&amp;");
    tl_html_text(&h, "a < b & c > d \"e\" 'f' </p><script>");
    tl_html_textf(&h, "%s%d", "<", 7);
    tl_html_close(&h);
    assert_true(tl_html_whole(&h));
    assert_string_equal(
        tl_text_string(&h.out),
        "<p title=\"&quot;&gt;&lt;script&gt;&#39;&amp;amp;\">a &lt; b &amp; c &gt; d "
        "&quot;e&quot; &#39;f&#39; &lt;/p&gt;&lt;script&gt;&lt;7</p>\n");
    tl_html_free(&h);
}

/* Marks that turn the direction, controls, what is no UTF-8: each becomes U+FFFD. Letters that are
 * written from the right stay. */
static void replaces_what_is_no_text(void **state)
{
    (void)state;
    static const unsigned char bad[][4] = {
        {0x01},
        {0x7f},
        {0xc2, 0x85},
        {0xd8, 0x9c},
        {0xe2, 0x80, 0x8e},
        {0xe2, 0x80, 0x8f},
        {0xe2, 0x80, 0xa8},
        {0xe2, 0x80, 0xae},
        {0xe2, 0x81, 0xa6},
        {0xe2, 0x81, 0xa9},
        {0xef, 0xbb, 0xbf},
        {0xef, 0xbf, 0xbe},
        {0xff},
        {0xc0},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct tl_html h = {.depth = 0};
        tl_html_text(&h, "x");
        tl_html_text(&h, (const char *)bad[i]);
        assert_string_equal(tl_text_string(&h.out), "x\xef\xbf\xbd");
        tl_html_free(&h);
    }
    static const char good[] = "\t\n\xd7\x90 \xe2\x80\x93 \xe2\x82\xac \xf0\x9f\x90\x9f";
    struct tl_html h = {.depth = 0};
    tl_html_text(&h, good);
    assert_string_equal(tl_text_string(&h.out), good);
    tl_html_free(&h);
}

static void knows_when_it_is_not_whole(void **state)
{
    (void)state;
    struct tl_html h = {.depth = 0};
    tl_html_open(&h, "p");
    assert_false(tl_html_whole(&h));
    tl_html_close(&h);
    assert_true(tl_html_whole(&h));
    tl_html_close(&h); /* nothing is open */
    assert_false(tl_html_whole(&h));
    tl_html_free(&h);
    tl_html_open(&h, "p");
    tl_html_text(&h, "x");
    tl_html_attribute(&h, "id", "late"); /* the tag has ended */
    tl_html_close(&h);
    assert_false(tl_html_whole(&h));
    tl_html_free(&h);
    for (int i = 0; i <= TL_HTML_DEPTH; i++)
        tl_html_open(&h, "div");
    for (int i = 0; i < TL_HTML_DEPTH; i++)
        tl_html_close(&h);
    assert_false(tl_html_whole(&h)); /* too deep */
    tl_html_free(&h);
}

static void drops_an_element_with_nothing_in_it(void **state)
{
    (void)state;
    struct tl_html h = {.depth = 0};
    tl_html_open(&h, "g");
    tl_html_open(&h, "g");
    tl_html_attribute(&h, "fill", "none");
    tl_html_close_or_drop(&h);
    tl_html_open(&h, "g");
    tl_html_element(&h, "text", "x");
    tl_html_close_or_drop(&h);
    tl_html_close_or_drop(&h);
    assert_true(tl_html_whole(&h));
    assert_string_equal(tl_text_string(&h.out), "<g><g><text>x</text>\n</g>\n</g>\n");
    tl_html_free(&h);
}

static void writes_figures_for_people(void **state)
{
    (void)state;
    assert_string_equal(tl_figure_of(0.060367).text, "0.0604");
    assert_string_equal(tl_figure_of(NAN).text, "-");
    assert_string_equal(tl_figure_of(INFINITY).text, "-");
    assert_null(strchr(tl_figure_of(1234567).text, 'e'));
    assert_string_equal(tl_figure_range((struct tl_chart_range){1.234, 1.2341}).text, "1.23");
    assert_string_equal(tl_figure_range((struct tl_chart_range){1, 2}).text, "1 to 2");
    assert_string_equal(tl_figure_range((struct tl_chart_range){NAN, NAN}).text, "-");
}

/* --- a plotter's picture -------------------------------------------------------------------------- */

static const struct tl_svg_names names = {"oxygen", "Oxygen & <life>", "falls"};

#define HEAD "<?xml version=\"1.0\"?>\n<svg width=\"9\" height=\"8\" viewBox=\"0 0 9 8\">\n"
#define OURS                                                                                       \
    "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 8\" role=\"img\" "                  \
    "aria-labelledby=\"oxygen-title oxygen-desc\"><title id=\"oxygen-title\">Oxygen &amp; "        \
    "&lt;life&gt;</title>\n<desc id=\"oxygen-desc\">falls</desc>\n"

static void expect(const char *svg, const char *inside)
{
    struct tl_html h = {.depth = 0};
    struct tl_text wanted = {0};
    tl_text_addf(&wanted, "%s%s</svg>\n", OURS, inside);
    assert_int_equal(tl_html_svg(&h, svg, strlen(svg), &names), TL_OK);
    assert_true(tl_html_whole(&h));
    assert_string_equal(tl_text_string(&h.out), tl_text_string(&wanted));
    tl_text_free(&wanted);
    tl_html_free(&h);
}

static void takes_over_what_draws(void **state)
{
    (void)state;
    expect(
        HEAD "<g fill='none' transform=\"translate(1,2)\"><path d='M0,0 L1,1' "
             "stroke='rgb( 1, 2, 3)' class=\"gridline\"/></g></svg>",
        "<g fill=\"none\" transform=\"translate(1,2)\"><path d=\"M0,0 L1,1\" stroke=\"rgb( 1, 2, "
        "3)\"></path>\n</g>\n");
    expect(HEAD "<text font-family=\"x\" font-size='12' xml:space='preserve'><tspan><![CDATA[a & "
                "<b>]]></tspan>&lt;&amp;&quot;</text>\n</svg>\n",
           "<text font-size=\"12\"><tspan>a &amp; &lt;b&gt;</tspan>&lt;&amp;&quot;</text>\n");
}

static void leaves_out_what_acts_or_names_the_plotter(void **state)
{
    (void)state;
    expect(HEAD
           "<title>Plotter</title><desc>by it</desc><script>alert(1)</script><style>x{}</style>"
           "<a href='http://x'><path d='M0'/></a><image href='http://x'/><foreignObject><text>t"
           "</text></foreignObject><animate attributeName='x'/><!-- c --><g></g>"
           "<rect x='0' y='0' width='9' height='8' fill='#fff'/><g><g/></g></svg>",
           "");
    expect(HEAD "<path onclick='x()' style='fill:red' d='M0' fill='url(http://x/#a)' "
                "stroke='u\\72l(x)' color='URL(x)'/></svg>",
           "<path d=\"M0\"></path>\n");
    expect(HEAD "<g id='plotter_1'><path d='M0'/></g></svg>", "<g><path d=\"M0\"></path>\n</g>\n");
    expect(HEAD "<use xlink:href='http://x/#a'/><use href='javascript:x()'/></svg>",
           "<use></use>\n<use></use>\n");
}

/* Two pictures stand in one page. */
static void ids_get_a_prefix(void **state)
{
    (void)state;
    expect(HEAD "<defs><circle id='dot' r='1'/></defs><use xlink:href='#dot' id=\"a\"/></svg>",
           "<defs><circle id=\"oxygen-dot\" r=\"1\"></circle>\n</defs>\n<use "
           "href=\"#oxygen-dot\" id=\"oxygen-a\"></use>\n");
}

static void refuses_what_it_does_not_understand(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",
        "words",
        "<svg/>",
        "<svg></svg>",
        "<p viewBox='0 0 1 1'></p>",
        HEAD,
        HEAD "<g></svg>",
        HEAD "</g></svg>",
        HEAD "<g fill></g></svg>",
        HEAD "<g fill=none></g></svg>",
        HEAD "<g fill='none></g></svg>",
        HEAD "<text>&nbsp;</text></svg>",
        HEAD "<path d='&x;'/></svg>",
        HEAD "<text><![CDATA[x</text></svg>",
        HEAD "<!-- x </svg>",
        HEAD "</svg><svg viewBox='0 0 1 1'></svg>",
        "<!DOCTYPE svg [<!ENTITY x \"y\">]>" HEAD "</svg>",
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct tl_html h = {.depth = 0};
        tl_html_open(&h, "p");
        assert_int_equal(tl_html_svg(&h, bad[i], strlen(bad[i]), &names), TL_E_CHART);
        tl_html_close(&h);
        assert_true(tl_html_whole(&h));
        assert_string_equal(tl_text_string(&h.out), "<p></p>\n"); /* nothing of it is left */
        tl_html_free(&h);
    }
}

/* A picture cut anywhere, or with any byte changed, is refused or taken in whole; a page stays a page. */
static void a_spoilt_picture_spoils_nothing(void **state)
{
    (void)state;
    static const char whole[] =
        HEAD "<g id='a' fill=\"none\"><text x='1'>a&amp;<![CDATA[b]]></text>"
             "<!-- c --><use xlink:href='#a'/></g></svg>";
    static const char spoil[] = "<>&'\"/=! a\xff";
    char text[sizeof whole];
    for (size_t cut = 0; cut + 1 < sizeof whole; cut++) {
        struct tl_html h = {.depth = 0};
        assert_int_equal(tl_html_svg(&h, whole, cut, &names), TL_E_CHART);
        assert_true(tl_html_whole(&h));
        tl_html_free(&h);
        for (size_t k = 0; k < sizeof spoil - 1; k++) {
            memcpy(text, whole, sizeof whole);
            text[cut] = spoil[k];
            const int status = tl_html_svg(&h, text, sizeof whole - 1, &names);
            assert_true(status == TL_OK || status == TL_E_CHART);
            assert_true(tl_html_whole(&h));
            tl_html_free(&h);
        }
    }
}

/* --- charts as numbers ------------------------------------------------------------------------------ */

static const char *const column[] = {"tank_tan_mgN_L",
                                     "tank_no2_mgN_L",
                                     "tank_no3_mgN_L",
                                     "tank_nh3_mgN_L",
                                     "tank_o2_mg_L",
                                     "tank_o2_sat_pct",
                                     "tower_out_o2_mg_L",
                                     "tank_ph",
                                     "tank_alkalinity_mgCaCO3_L",
                                     "temperature_degC",
                                     "feed_g_d",
                                     "tank_chloride_mg_L",
                                     "tray01_aob_gCOD_m2",
                                     "tray01_nob_gCOD_m2",
                                     "tray01_het_gCOD_m2",
                                     "tray02_aob_gCOD_m2",
                                     "tray01_voids_filled_pct"};
enum { COLUMNS = sizeof column / sizeof *column };

/* `rows` rows, one each `step_d`: total ammonia is the number of the row, the tower's outlet is dry in
 * the second half, all else is 1. */
static void write_series(const char *path, size_t rows, double step_d)
{
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs("time_d,time_iso", f);
    for (size_t i = 0; i < COLUMNS; i++)
        fprintf(f, ",%s", column[i]);
    for (size_t row = 0; row < rows; row++) {
        fprintf(f, "\n%.9g,x,%zu", (double)row * step_d, row);
        for (size_t i = 1; i < COLUMNS; i++)
            fputs(strcmp(column[i], "tower_out_o2_mg_L") == 0 && row >= rows / 2 ? "," : ",1", f);
    }
    fputc('\n', f);
    assert_int_equal(fclose(f), 0);
}

static struct tl_chart_tables *read_series(const char *path, double span_d)
{
    struct tl_chart_tables *t = NULL;
    struct tl_chart_outcome outcome;
    const struct tl_chart_options o = {.series_csv = path};
    const int status = tl_chart_tables_read(&o, span_d, &outcome, &t);
    if (status != TL_OK)
        fail_msg("%s", outcome.fault);
    return t;
}

static void tells_curves_in_stretches(void **state)
{
    (void)state;
    char path[] = "/tmp/tl-html-XXXXXX", heading[TL_CHART_HEADING_SIZE];
    assert_true(mkstemp(path) >= 0);
    write_series(path, 241, 0.25); /* 60 days, four rows a day */
    struct tl_chart_tables *t = read_series(path, 0);
    assert_int_equal(tl_chart_tables_rows(t), 60);
    near(tl_chart_tables_stretch_d(t), 1, 0);
    near(tl_chart_tables_from_d(t, 7), 7, 1e-12);
    struct tl_chart_range r = tl_chart_tables_cell(t, TL_CHART_NITROGEN, 0, 7);
    near(r.low, 28, 0);
    near(r.high, 31, 0);
    r = tl_chart_tables_cell(t, TL_CHART_NITROGEN, 0, TL_WHOLE_RUN);
    near(r.low, 0, 0);
    near(r.high, 240, 0);
    tl_chart_tables_heading(t, TL_CHART_NITROGEN, 0, heading);
    assert_string_equal(heading, "Total ammonia, mg/L as N: ammonia (TAN)");
    r = tl_chart_tables_of(t, "tower_out_o2_mg_L", 59);
    assert_true(isnan(r.low) && isnan(r.high)); /* dry */
    near(tl_chart_tables_of(t, "tank_tan_mgN_L", 59).high, 240, 0);
    assert_int_equal(tl_chart_tables_columns(t, TL_CHART_TEMPERATURE), 0); /* not in the weather */
    /* two trays: top and bottom of ammonia oxidisers, only the top of the others */
    assert_int_equal(tl_chart_tables_columns(t, TL_CHART_BIOFILM), 5);
    tl_chart_tables_free(t);
    t = read_series(path, 365); /* beside a run of a year */
    near(tl_chart_tables_stretch_d(t), 7, 0);
    assert_int_equal(tl_chart_tables_rows(t), 9);
    near(tl_chart_tables_of(t, "tank_tan_mgN_L", 8).low, 224, 0);
    assert_true(isnan(tl_chart_tables_of(t, "tank_tan_mgN_L", 9).low));
    tl_chart_tables_free(t);
    write_series(path, 13, 1.0 / 24); /* half a day */
    t = read_series(path, 0);
    near(tl_chart_tables_stretch_d(t), 1.0 / 24, 0);
    assert_int_equal(tl_chart_tables_rows(t), 12);
    tl_chart_tables_free(t);
    assert_int_equal(remove(path), 0);
}

static void says_what_cannot_be_read(void **state)
{
    (void)state;
    struct tl_chart_tables *t = NULL;
    struct tl_chart_outcome outcome;
    const struct tl_chart_options o = {.series_csv = "/nowhere/series.csv"};
    assert_int_equal(tl_chart_tables_read(&o, 0, &outcome, &t), TL_E_IO);
    assert_null(t);
    assert_non_null(strstr(outcome.fault, "/nowhere/series.csv"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(escapes_texts_and_attributes),
        cmocka_unit_test(replaces_what_is_no_text),
        cmocka_unit_test(knows_when_it_is_not_whole),
        cmocka_unit_test(drops_an_element_with_nothing_in_it),
        cmocka_unit_test(writes_figures_for_people),
        cmocka_unit_test(takes_over_what_draws),
        cmocka_unit_test(leaves_out_what_acts_or_names_the_plotter),
        cmocka_unit_test(ids_get_a_prefix),
        cmocka_unit_test(refuses_what_it_does_not_understand),
        cmocka_unit_test(a_spoilt_picture_spoils_nothing),
        cmocka_unit_test(tells_curves_in_stretches),
        cmocka_unit_test(says_what_cannot_be_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
