/* Goes through a plotter's SVG tag by tag and writes what draws. The parser knows what plotters write:
 * elements, attributes, text, CDATA, comments, the five entities; anything else is refused. */
#include "svg.h"

#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

enum { MOST_ATTRIBUTES = 48, NAME_SIZE = 64 };

/* A stretch of the source. */
struct piece {
    const char *at;
    size_t n;
};

struct reader {
    const char *at, *end;
    struct tl_html *h;
    const struct tl_svg_names *names;
    struct tag {
        struct piece name;
        bool closes, empty; /* "</x>", "<x/>" */
        struct {
            struct piece name, value;
        } attribute[MOST_ATTRIBUTES];
        size_t attributes;
    } tag;
    size_t open;   /* elements of the source that are */
    size_t silent; /* of these, how many lie in one that is left out; 0: none */
    struct piece name[TL_HTML_DEPTH];
    struct piece width, height; /* of the whole picture */
    bool done;
};

/* What draws, and has nothing in it that acts. */
static const char *const elements[] = {"svg",     "g",       "path", "line", "polyline",
                                       "polygon", "rect",    "use",  "text", "tspan",
                                       "circle",  "ellipse", "defs", NULL};
static const char *const attributes[] = {"color",
                                         "cx",
                                         "cy",
                                         "d",
                                         "dx",
                                         "dy",
                                         "fill",
                                         "fill-opacity",
                                         "fill-rule",
                                         "font-size",
                                         "font-style",
                                         "font-weight",
                                         "height",
                                         "opacity",
                                         "points",
                                         "r",
                                         "rx",
                                         "ry",
                                         "shape-rendering",
                                         "stroke",
                                         "stroke-dasharray",
                                         "stroke-linecap",
                                         "stroke-linejoin",
                                         "stroke-opacity",
                                         "stroke-width",
                                         "text-anchor",
                                         "transform",
                                         "width",
                                         "x",
                                         "x1",
                                         "x2",
                                         "y",
                                         "y1",
                                         "y2",
                                         NULL};

static bool is(struct piece p, const char *word)
{
    return strlen(word) == p.n && memcmp(p.at, word, p.n) == 0;
}

/* The list's own text of it, which is static, or NULL. */
static const char *find(struct piece p, const char *const *list)
{
    for (; *list; list++)
        if (is(p, *list))
            return *list;
    return NULL;
}

/* --- reading ------------------------------------------------------------------------------------ */

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static bool is_name(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_' || c == ':' || c == '.';
}

static void skip_blanks(struct reader *r)
{
    while (r->at < r->end && is_blank(*r->at))
        r->at++;
}

static bool begins(const struct reader *r, const char *word)
{
    const size_t n = strlen(word);
    return (size_t)(r->end - r->at) >= n && memcmp(r->at, word, n) == 0;
}

/* Moves behind `word`; false when it does not come. */
static bool skip_past(struct reader *r, const char *word)
{
    for (; r->at < r->end; r->at++)
        if (begins(r, word)) {
            r->at += strlen(word);
            return true;
        }
    return false;
}

static struct piece take_name(struct reader *r)
{
    struct piece p = {r->at, 0};
    while (r->at < r->end && is_name(*r->at))
        r->at++;
    p.n = (size_t)(r->at - p.at);
    return p;
}

static bool take_attribute(struct reader *r)
{
    struct tag *t = &r->tag;
    const struct piece name = take_name(r);
    skip_blanks(r);
    if (name.n == 0 || t->attributes == MOST_ATTRIBUTES || !begins(r, "="))
        return false;
    r->at++;
    skip_blanks(r);
    if (r->at == r->end || (*r->at != '"' && *r->at != '\''))
        return false;
    const char mark[2] = {*r->at++, '\0'};
    struct piece value = {r->at, 0};
    if (!skip_past(r, mark))
        return false;
    value.n = (size_t)(r->at - 1 - value.at);
    t->attribute[t->attributes].name = name;
    t->attribute[t->attributes++].value = value;
    return true;
}

/* "<g id='x'>", "</g>", "<path/>" */
static bool take_tag(struct reader *r)
{
    struct tag *t = &r->tag;
    r->at++;
    t->attributes = 0;
    t->closes = begins(r, "/");
    r->at += t->closes;
    t->name = take_name(r);
    if (t->name.n == 0)
        return false;
    for (;;) {
        skip_blanks(r);
        t->empty = begins(r, "/>");
        if (t->empty || begins(r, ">")) {
            r->at += t->empty ? 2 : 1;
            return !(t->closes && (t->empty || t->attributes > 0));
        }
        if (!take_attribute(r))
            return false;
    }
}

/* Appends the text that `p` stands for. False for an entity that SVG does not know by itself. */
static bool decode(struct piece p, struct tl_text *out)
{
    static const struct {
        const char *name;
        const char *text;
    } entity[] = {{"&amp;", "&"}, {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&apos;", "'"}};
    for (size_t i = 0; i < p.n;) {
        if (p.at[i] != '&') {
            tl_text_add_bytes(out, &p.at[i++], 1);
            continue;
        }
        size_t k = 0;
        while (k < sizeof entity / sizeof *entity &&
               (strlen(entity[k].name) > p.n - i ||
                memcmp(&p.at[i], entity[k].name, strlen(entity[k].name)) != 0))
            k++;
        if (k == sizeof entity / sizeof *entity)
            return false;
        tl_text_add(out, entity[k].text);
        i += strlen(entity[k].name);
    }
    return true;
}

/* --- writing ------------------------------------------------------------------------------------ */

static struct piece value_of(const struct tag *t, const char *name)
{
    for (size_t i = 0; i < t->attributes; i++)
        if (is(t->attribute[i].name, name))
            return t->attribute[i].value;
    return (struct piece){"", 0};
}

static bool same(struct piece a, struct piece b)
{
    return a.n == b.n && memcmp(a.at, b.at, a.n) == 0;
}

/* The plate behind the whole picture: the page has its own. */
static bool is_background(const struct reader *r)
{
    const struct tag *t = &r->tag;
    return is(t->name, "rect") && r->width.n > 0 && same(value_of(t, "width"), r->width) &&
           same(value_of(t, "height"), r->height);
}

static bool write_value(struct reader *r, const char *name, const char *before, struct piece value)
{
    struct tl_text text = {0};
    tl_text_add(&text, before);
    const bool good = decode(value, &text);
    const char *plain = tl_text_string(&text);
    /* a paint may be fetched from elsewhere: by url(), in any spelling */
    if (good &&
        (!strchr(plain, '(') || strncmp(plain, "rgb(", 4) == 0 || strcmp(name, "transform") == 0))
        tl_html_attribute(r->h, name, plain);
    r->h->out.failed = r->h->out.failed || text.failed;
    tl_text_free(&text);
    return good;
}

/* ids get the picture's prefix, and so does what points to them. Groups have names that nothing points to. */
static bool write_reference(struct reader *r, struct piece name, struct piece value)
{
    char before[NAME_SIZE];
    if (is(name, "id")) {
        if (is(r->tag.name, "g"))
            return true;
        tl_format(before, sizeof before, "%s-", r->names->prefix);
        return write_value(r, "id", before, value);
    }
    if (value.n < 2 || value.at[0] != '#')
        return true; /* from elsewhere */
    tl_format(before, sizeof before, "#%s-", r->names->prefix);
    return write_value(r, "href", before, (struct piece){value.at + 1, value.n - 1});
}

static bool write_attributes(struct reader *r)
{
    const struct tag *t = &r->tag;
    for (size_t i = 0; i < t->attributes; i++) {
        const struct piece name = t->attribute[i].name, value = t->attribute[i].value;
        const char *known = find(name, attributes);
        if (known ? !write_value(r, known, "", value)
                  : (is(name, "id") || is(name, "href") || is(name, "xlink:href")) &&
                        !write_reference(r, name, value))
            return false;
    }
    return true;
}

/* The picture itself: its own size, which the page overrides, and its name. */
static bool write_root(struct reader *r)
{
    const struct tag *t = &r->tag;
    const struct tl_svg_names *n = r->names;
    const struct piece box = value_of(t, "viewBox");
    if (!is(t->name, "svg") || t->empty || box.n == 0)
        return false;
    r->width = value_of(t, "width");
    r->height = value_of(t, "height");
    tl_html_open(r->h, "svg");
    tl_html_attribute(r->h, "xmlns", "http://www.w3.org/2000/svg");
    if (!write_value(r, "viewBox", "", box))
        return false;
    tl_html_attribute(r->h, "role", "img");
    tl_html_attributef(r->h, "aria-labelledby", "%s-title %s-desc", n->prefix, n->prefix);
    tl_html_open(r->h, "title");
    tl_html_attributef(r->h, "id", "%s-title", n->prefix);
    tl_html_text(r->h, n->title);
    tl_html_close(r->h);
    tl_html_open(r->h, "desc");
    tl_html_attributef(r->h, "id", "%s-desc", n->prefix);
    tl_html_text(r->h, n->description);
    tl_html_close(r->h);
    return true;
}

static void end_element(struct reader *r)
{
    r->open--;
    if (r->silent > 0)
        r->silent--;
    else if (is(r->name[r->open], "g"))
        tl_html_close_or_drop(r->h);
    else
        tl_html_close(r->h);
    r->done = r->open == 0;
}

static bool start_element(struct reader *r)
{
    const char *known = find(r->tag.name, elements);
    /* the root has two elements of its own, one in the other */
    if (r->open == TL_HTML_DEPTH || r->h->depth + 2 > TL_HTML_DEPTH || r->done)
        return false;
    r->name[r->open] = r->tag.name;
    if (r->open == 0) {
        if (!write_root(r))
            return false;
    } else if (r->silent > 0 || !known || strcmp(known, "svg") == 0 || is_background(r)) {
        r->silent++;
    } else {
        tl_html_open(r->h, known);
        if (!write_attributes(r))
            return false;
    }
    r->open++;
    if (r->tag.empty)
        end_element(r);
    return true;
}

static bool handle_tag(struct reader *r)
{
    if (!take_tag(r))
        return false;
    if (!r->tag.closes)
        return start_element(r);
    if (r->open == 0 || !same(r->name[r->open - 1], r->tag.name))
        return false;
    end_element(r);
    return true;
}

static bool is_in_text(const struct reader *r)
{
    return r->open > 0 && r->silent == 0 &&
           (is(r->name[r->open - 1], "text") || is(r->name[r->open - 1], "tspan"));
}

/* Words; blanks between elements are left out. */
static bool handle_text(struct reader *r, struct piece words, bool as_it_is)
{
    struct tl_text text = {0};
    bool good = true;
    if (as_it_is)
        tl_text_add_bytes(&text, words.at, words.n);
    else
        good = decode(words, &text);
    if (good && is_in_text(r))
        tl_html_text(r->h, tl_text_string(&text));
    r->h->out.failed = r->h->out.failed || text.failed;
    tl_text_free(&text);
    return good;
}

static bool handle_next(struct reader *r)
{
    struct piece words = {r->at, 0};
    if (begins(r, "<![CDATA[")) {
        r->at += strlen("<![CDATA[");
        words.at = r->at;
        if (!skip_past(r, "]]>"))
            return false;
        words.n = (size_t)(r->at - strlen("]]>") - words.at);
        return handle_text(r, words, true);
    }
    if (begins(r, "<!--"))
        return skip_past(r, "-->");
    if (begins(r, "<?"))
        return skip_past(r, "?>");
    if (begins(r, "<!")) /* a document type could bring entities of its own */
        return false;
    if (*r->at == '<')
        return handle_tag(r);
    while (r->at < r->end && *r->at != '<')
        r->at++;
    words.n = (size_t)(r->at - words.at);
    return handle_text(r, words, false);
}

int tl_html_svg(struct tl_html *h, const char *svg, size_t length, const struct tl_svg_names *names)
{
    const size_t depth = h->depth;
    if (h->in_tag) /* what follows is taken back as a whole, if need be */
        tl_html_text(h, "");
    const size_t before = h->out.length;
    struct reader *r = calloc(1, sizeof *r);
    if (!r)
        return TL_E_MEMORY;
    *r = (struct reader){.at = svg, .end = svg + length, .h = h, .names = names};
    bool good = true;
    while (good && r->at < r->end)
        good = handle_next(r);
    good = good && r->done;
    free(r);
    if (h->out.failed)
        return TL_E_MEMORY;
    if (good)
        return TL_OK;
    h->depth = depth;
    h->in_tag = false;
    h->out.length = before;
    if (h->out.data)
        h->out.data[before] = '\0';
    return TL_E_CHART;
}
