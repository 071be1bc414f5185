"""End-to-end tests of report.html: `report`, `run --report`, `compare --report`.

usage: report_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...

The class Browser looks at the page in a headless Chromium; where there is none it says so and is skipped.
"""

import csv
import html.parser
import json
import os
import pathlib
import re
import sys
import unittest
import xml.etree.ElementTree

sys.dont_write_bytecode = True
import browser  # noqa: E402
from run_e2e import FEW, ROOT, SMALL, EndToEnd, towerloop, without_gnuplot  # noqa: E402

# A scenario whose every word would like to be something else.
EVIL = "<script>alert(1)</script> \\\"'&amp; ]]> --> \u05d0\u05d1\u05d2 \u0627\u0644 " + "W" * 150
EVENTS = """\
events:
  - {at: day 1, add fish: {name: "<img src=x onerror=alert(2)>", count: 30, mean mass: 900 g}}
parameters: {mu_aob: 0.7 1/d}
costs: {currency: "<b>EUR</b>", electricity: 0.30 per kWh, pump: 60 W, water: 4 per m3, feed: 5 per kg,
        media: 0.4 per L, tray: 12}
"""
CANARY = SMALL.replace("title: Small loop", f'title: "{EVIL}"') + EVENTS
VARIANTS = SMALL + """\
costs: {electricity: 0.30 per kWh, pump: 60 W, water: 4 per m3, feed: 5 per kg, media: 0.4 per L, tray: 12}
variants:
  - {name: "</td><script>alert(3)</script>", set: {tower.trays: 16}}
  - {name: more fish, set: {"fish[0].count": 30}}
"""

VOID = {"meta", "br", "hr", "img", "link", "input"}
SVG_ONLY = {"svg", "g", "path", "polygon", "polyline", "line", "rect", "circle", "ellipse", "use", "text", "tspan",
            "defs", "title", "desc"}
KNOWN = SVG_ONLY | set("html head meta style body a header h1 h2 h3 p nav ul ol li main section div table caption thead "
                       "tbody tr th td figure figcaption details summary dl dt dd pre code b small span bdi time "
                       "footer".split())


class Page(html.parser.HTMLParser):
    """What stands in a page, and whether every element is closed where it should be."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.faults, self.ids, self.links = [], [], [], []
        self.elements, self.words, self.attributes = [], [], []
        self.feed(text)
        self.close()
        self.faults += [f"{tag} is never closed" for tag in self.open]

    def handle_starttag(self, tag, attrs):
        self.elements.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        attrs = dict(attrs)
        if "id" in attrs:
            self.ids.append(attrs["id"])
        if "href" in attrs:
            self.links.append(attrs["href"])
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", "".join(self.words))


def pictures(text):
    return [xml.etree.ElementTree.fromstring(svg) for svg in re.findall(r"<svg\b.*?</svg>", text, re.DOTALL)]


def numbers(text, chart):
    """The table beside a chart: rows of cells, the headings first."""
    [table] = re.findall(rf'<table><caption id="{chart}-numbers">.*?</table>', text, re.DOTALL)
    return [[html.unescape(re.sub(r"<[^>]+>", "", cell)).strip() for cell in re.findall(r"<t[hd]\b.*?</t[hd]>", row, re.DOTALL)]
            for row in re.findall(r"<tr\b.*?</tr>", table, re.DOTALL)]


def ends(cell):
    """Lowest and highest of "0.21 to 0.34" or "0.21"."""
    both = [float(number) for number in cell.split(" to ")]
    return both[0], both[-1]


class Made(EndToEnd):
    """Makes reports, and checks what holds for each."""

    def made(self, scenario=SMALL, *options, env=None):
        path = self.folder / "pond.yaml"
        path.write_text(scenario, encoding="utf-8")
        self.expect(towerloop("run", path, "--out", self.folder / "out", "--force", "--report", *options, env=env), 0)
        return (self.folder / "out" / "report.html").read_text(encoding="utf-8")

    def compared(self, *options):
        path = self.folder / "pond.yaml"
        path.write_text(VARIANTS, encoding="utf-8")
        self.expect(towerloop("compare", path, "--out", self.folder / "all", "--force", "--report", *options), 0)
        return (self.folder / "all" / "report.html").read_text(encoding="utf-8")

    def check(self, text):
        """What holds for every report."""
        page = Page(text)
        self.assertEqual(page.faults, [])
        self.assertEqual(len(page.ids), len(set(page.ids)), "an id is there twice")
        self.assertEqual(set(page.elements) - KNOWN, set())
        self.assertEqual(page.elements.count("h1"), 1)
        self.assertEqual(page.elements.count("main"), 1)
        for link in page.links:
            self.assertTrue(link.startswith("#"), link)
            self.assertIn(link[1:], page.ids)
        for tag, name, value in page.attributes:
            self.assertFalse(name.startswith("on") or name in ("style", "src", "srcset"), (tag, name, value))
            if name in ("aria-labelledby", "aria-describedby"):
                for target in value.split():
                    self.assertIn(target, page.ids)
            if name not in ("xmlns", "content"):
                self.assertNotRegex(value, r"(?i)https?:|url\(|javascript:")
        self.assertIn(("meta", "content"), {(t, n) for t, n, v in page.attributes if "default-src 'none'" in v})
        scopes = [v for t, n, v in page.attributes if t == "th" and n == "scope"]
        self.assertEqual(len(scopes), page.elements.count("th"))
        self.assertEqual(page.elements.count("caption"), page.elements.count("table"))
        self.assertNotRegex(text, r"<(p|dl|ul|ol|table|tbody|section|figcaption|li|dd)( [^>]*)?></\1>", "an empty element")
        for svg in pictures(text):
            namespace = {"s": "http://www.w3.org/2000/svg"}
            self.assertTrue(svg.find("s:title", namespace).text.strip())
            self.assertTrue(svg.find("s:desc", namespace).text.strip())
            self.assertFalse("gnuplot" in xml.etree.ElementTree.tostring(svg, "unicode").lower(), "the plotter's name")
        return page


class Report(Made):
    """The page as a text."""

    def test_a_run_has_all_of_it(self):
        text = self.made()
        page = self.check(text)
        self.assertEqual(len(pictures(text)), 9, "eight charts and the loop")
        self.assertEqual(page.text.count("Numbers of this chart"), 8, "a chart without its numbers")
        summary = json.loads((self.folder / "out" / "summary.json").read_text())
        for limit in summary["limits"]:
            self.assertIn(limit["name"], page.text)
        for words in ("Small loop", f"Verdict: {summary['verdict']}", "What was asked",
                      "licensed electrician", "veterinarian", "brace it", "Tank, 6 m3", "Nitrogen in",
                      "growth rate of ammonia oxidisers", "published", "Running this text repeats the run",
                      "12 koi of 500 g", "Each row is a stretch of 2 h"):
            self.assertIn(words, page.text)

    def test_limits_of_ones_own_stand_with_the_verdict(self):
        page = self.check(self.made(SMALL + "limits: {oxygen: {danger: 1 mg/L}}\n", "--no-charts"))
        self.assertRegex(page.text, r"Verdict: [a-z: ]+\. [A-Z][a-z ]+, with default parameters and limits set by the scenario\.")

    def test_what_the_verdict_cannot_tell_stands_with_it(self):
        page = self.check(self.made(SMALL, "--no-charts", "--set", "length=1 d", "--set", "events=[]",
                                    "--set", "temperature=6 degC"))
        self.assertIn("A run of 1 d is too short to tell how ammonia, nitrite and nitrate end", page.text)
        self.assertRegex(page.text, r"Feed in cold water [0-9.]+ g in water below 8 degC, first at 2027-[0-9-]+ [0-9:]+, day 0, in water "
                                    r"down to 6 degC; koi and carp hardly digest it there: stop feeding below 8 degC")

    def test_a_caution_without_a_limit_that_was_passed(self):
        """No lever is said to have failed where none was tried, nor is all said to be well."""
        page = self.check(self.made(FEW.replace("biofilm: mature", "biofilm: new"), "--no-charts"))
        self.assertIn("Verdict: caution: filter not shown to be ready", page.text)
        self.assertIn("Make the run longer: a new filter takes weeks.", page.text)
        self.assertIn("Every limit was kept. The caution is for something beside the limits: see the answer.", page.text)
        page = self.check(self.made(FEW, "--no-charts", "--force"))
        self.assertIn("Nothing has to change: every limit was kept.", page.text)

    def test_a_run_that_ends_in_the_middle_of_an_event_says_so(self):
        page = self.check(self.made(SMALL, "--no-charts", "--set", "length=20 d",
                                    "--set", "events=[{at: day 19 22:00, power: off}]"))
        self.assertIn("The run ends 2 h after the power failed: what comes after is not in it. Make it longer by 14 days at least.",
                      page.text)

    def series(self):
        with open(self.folder / "out" / "series.csv", encoding="utf-8", newline="") as file:
            return [{k: float(v) for k, v in row.items() if k != "time_iso" and v} for row in csv.DictReader(file)]

    def alike(self, cell, values):
        """Three digits of the lowest and the highest of some values."""
        for shown, value in zip(ends(cell), (min(values), max(values))):
            self.assertAlmostEqual(shown, value, delta=0.006 * abs(value) + 1e-9)

    def test_the_day_has_its_hours(self):
        head, *rows = numbers(self.made(SMALL, "--no-charts"), "day")
        self.assertEqual([row[0] for row in rows], [f"2027-06-03 {hour:02d}:00" for hour in range(24)])
        oxygen, fish = (next(i for i, h in enumerate(head) if words in h) for words in ("Oxygen in the tank", "from the fish"))
        recorded = self.series()
        for hour, row in enumerate(rows):
            at = [r for r in recorded if abs(r["time_d"] - 2 - hour / 24) < 1e-3 or (hour == 23 and r["time_d"] == 3)]
            self.alike(row[oxygen], [r["tank_o2_mg_L"] for r in at])
            self.alike(row[fish], [r["excreted_tan_gN_d"] for r in at])
        # every two hours is enough for the chart, and then for its table
        head, *rows = numbers(self.made(SMALL.replace("every: 1 h", "every: 2 h"), "--no-charts"), "day")
        self.assertEqual([row[0][-5:] for row in rows], [f"{hour:02d}:00" for hour in range(0, 24, 2)])
        self.assertNotIn("-", [cell for row in rows for cell in row])
        # nor chart nor table of a day that nobody looked into
        text = self.made(SMALL.replace("every: 1 h", "every: 12 h"), "--no-charts")
        self.assertNotIn("day-numbers", text)

    def test_each_tray_has_its_row(self):
        text = self.made(SMALL, "--no-charts")
        head, *rows = numbers(text, "trays")
        self.assertEqual([row[0] for row in rows], ["Water in"] + [f"Tray {tray}" for tray in range(1, 9)])
        self.assertIn("the mean of 2027-06-03", self.check(text).text)
        day = [r for r in self.series() if r["time_d"] > 2 - 1e-5]
        for heading, suffix in (("Oxygen, mg/L", "_o2_mg_L"), ("Ammonia (TAN), mg/L as N", "_tan_mgN_L"),
                                ("Heterotrophs, g COD/m2", "_het_gCOD_m2")):
            column = head.index(heading)
            for tray, row in enumerate(rows):
                name = f"tray{tray:02d}{suffix}" if tray else f"chamber{suffix}"
                if name not in day[0]:
                    self.assertEqual(row[column], "-", name)
                    continue
                mean, spread = re.fullmatch(r"(\S+)(?: \((.*)\))?", row[column]).groups()
                values = [r[name] for r in day]
                self.alike(mean, [sum(values) / len(values)])
                self.alike(spread or mean, values)

    def test_a_start_up_has_its_phases(self):
        self.expect(towerloop("run", ROOT / "scenarios" / "new-filter.yaml", "--out", self.folder / "out", "--no-charts",
                              "--report"), 0)
        text = (self.folder / "out" / "report.html").read_text(encoding="utf-8")
        head, *rows = numbers(text, "startup")
        self.check(text)
        recorded = self.series()
        ready = json.loads((self.folder / "out" / "summary.json").read_text())["filter_ready_day"]
        peak = {name: max(recorded, key=lambda r, c=column: r[c])["time_d"]
                for name, column in (("ammonia", "tank_tan_mgN_L"), ("nitrite", "tank_no2_mgN_L"))}
        self.assertEqual(rows[0][0], "2027-04-24")
        self.assertLessEqual(len(rows), 70)
        phase = [row[head.index("Phase")] for row in rows]
        self.assertEqual(phase[0], "ammonia builds up")
        self.assertEqual(phase[int(peak["ammonia"])], "ammonia builds up; nitrite builds up")
        self.assertEqual(phase[int(peak["nitrite"])], "nitrite builds up; nitrite falls")
        self.assertEqual(phase[int(ready)], "nitrite falls; filter ready")
        self.assertEqual(phase[-1], "filter ready")
        nitrite = next(i for i, h in enumerate(head) if "nitrite (NO2-N)" in h)
        self.alike(rows[int(peak["nitrite"])][nitrite],
                   [r["tank_no2_mgN_L"] for r in recorded if 0 <= r["time_d"] + 1e-5 - int(peak["nitrite"]) < 1])
        # cut short it is not ready; a filter in use does not start up
        self.expect(towerloop("run", ROOT / "scenarios" / "new-filter.yaml", "--out", self.folder / "out", "--force",
                              "--no-charts", "--report", "--set", f"length={int(ready) - 2} d"), 0)
        head, *rows = numbers((self.folder / "out" / "report.html").read_text(encoding="utf-8"), "startup")
        self.assertEqual(len(rows), int(ready) - 2)
        self.assertEqual(rows[-1][1], "nitrite falls; not ready by the end of this run")
        self.assertNotIn("startup-numbers", self.made(SMALL, "--no-charts"))

    def test_the_calendar_is_gathered(self):
        self.made(SMALL.replace("length: 3 d", "length: 30 d"))
        with open(self.folder / "out" / "calendar.csv", encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        weekly = [r for r in rows if "once a week" in r["why"]]
        self.assertGreater(len(weekly), 2)
        page = self.check((self.folder / "out" / "report.html").read_text(encoding="utf-8"))
        self.assertIn(f"{weekly[0]['time_iso']} to {weekly[-1]['time_iso']}, {len(weekly)} times", page.text)
        self.assertEqual(page.text.count(weekly[0]["why"]), 1)
        (self.folder / "out" / "calendar.csv").unlink()
        self.expect(towerloop("report", self.folder / "out"), 0)
        self.assertIn("This run has no calendar", (self.folder / "out" / "report.html").read_text(encoding="utf-8"))

    def test_figures_are_those_of_the_run(self):
        page = self.check(self.made())
        summary = json.loads((self.folder / "out" / "summary.json").read_text())
        oxygen = next(l for l in summary["limits"] if l["name"] == "oxygen")
        self.assertIn(f"oxygen mg/L within limits {oxygen['worst']:.3g}", re.sub(r"\s+", " ", " ".join(page.words)))
        words = re.sub(r"\s+", " ", " ".join(page.words))
        for named in ("un-ionised ammonia mg/L as N, hourly mean ", "nitrate mg/L as N, daily mean ",
                      "total ammonia, long term mg/L as N, mean of 30 days "):
            self.assertIn(named, words)
        fed = summary["ledger"]["nitrogen"]["in"]["feed"]
        self.assertIn(f"Nitrogen in: {fed:.3g} g", page.text)

    def test_report_and_run_agree(self):
        for options in ((), ("--units", "us")):
            text = self.made(SMALL, *options)
            self.expect(towerloop("report", self.folder / "out", *options), 0)
            self.assertEqual((self.folder / "out" / "report.html").read_text(encoding="utf-8"), text)
        self.assertIn("gal", text)
        self.assertEqual(sorted(p.name for p in (self.folder / "out").iterdir()),
                         ["calendar.csv", "calendar.ics", "charts", "report.html", "scenario.yaml", "series.csv", "summary.json"])

    def test_a_comparison_with_a_run_cut_short(self):
        self.compared()
        path = sorted((self.folder / "all" / "runs").glob("*/series.csv"))[-1]
        rows = path.read_text(encoding="utf-8").splitlines(keepends=True)
        path.write_text("".join(rows[:-3]), encoding="utf-8")
        process = towerloop("report", self.folder / "all")
        self.expect(process, 2)
        self.assertRegex(process.stderr, rf"{re.escape(str(path))}:{len(rows) - 3}: this is the last row")

    def test_compare_and_report_agree(self):
        text = self.compared()
        page = self.check(text)
        self.expect(towerloop("report", self.folder / "all"), 0)
        self.assertEqual((self.folder / "all" / "report.html").read_text(encoding="utf-8"), text)
        self.assertEqual(len(pictures(text)), 2)
        for words in ("No variant stays within limits", "Caution: ", "more fish", "The cheapest with caution at most: base",
                      "16 trays with",
                      "</td><script>alert(3)</script>", "Cost to build"):
            self.assertIn(words, page.text)
        self.expect(towerloop("compare", self.folder / "pond.yaml", "--out", self.folder / "all"), 0)
        self.assertFalse((self.folder / "all" / "report.html").exists(), "an old report outlived its results")
        (self.folder / "all" / "runs" / "base" / "summary.json").unlink()
        process = towerloop("report", self.folder / "all")
        self.expect(process, 2)
        self.assertIn("the folders of all its runs", process.stderr)

    def test_hydrogen_sulfide_and_standing_water_are_told(self):
        out = self.folder / "out"
        sour = ["--no-charts", "--report", "--set", "tower.submerged=yes"]
        self.expect(towerloop("run", ROOT / "scenarios" / "open-air-or-submerged.yaml", "--out", out, *sour), 0)
        self.assertTrue(json.loads((out / "summary.json").read_text())["bed"]["hydrogen_sulfide_can_form"])
        text = self.check((out / "report.html").read_text(encoding="utf-8")).text
        for words in ("Hydrogen sulfide can form: ", "without oxygen and nitrate for up to", "kills fish and people"):
            self.assertIn(words, text)
        self.assertNotIn("Water stands on the trays", text)
        path = out / "summary.json"
        summary = json.loads(path.read_text())
        summary["solids"]["trays"].update(fullest=3, most_voids_filled_pct=97)
        path.write_text(json.dumps(summary))
        self.expect(towerloop("report", out), 0)
        text = self.check((out / "report.html").read_text(encoding="utf-8")).text
        self.assertIn("Water stands on the trays and may run over: 97 % of the voids of tray 3", text)

    def test_medicine_and_its_shock_are_told(self):
        never = "what it does to fish is not reckoned here. Never mix"
        self.assertNotIn(never, self.check(self.made()).text)
        out = self.folder / "shock"
        self.expect(towerloop("run", ROOT / "scenarios" / "medicine-shock.yaml", "--out", out, "--no-charts",
                              "--report"), 0)
        [shock] = json.loads((out / "summary.json").read_text())["shocks"]
        text = self.check((out / "report.html").read_text(encoding="utf-8")).text
        killed = f"{100 * shock['ammonia_oxidisers_killed']:.3g} % of the ammonia oxidisers died"
        # three times 25 mg/L into 9.8 m3; 400 g/L in the solution
        for words in (never, killed, "Dosed in all", "1.84 L of 37 % solution (735 g of formaldehyde)",
                      "formaldehyde, 2027-06-22 09:00", "and 2 more before it was back",
                      f"the oxidisers after {shock['ammonia_oxidisers_back_d']:.1f} d"):
            self.assertIn(words, text)

    def test_a_tower_that_dried_out_is_told(self):
        out = self.folder / "dry"
        self.expect(towerloop("run", ROOT / "scenarios" / "power-cut-in-summer.yaml", "--out", out, "--no-charts",
                              "--report"), 0)
        still = json.loads((out / "summary.json").read_text())["tower_without_water"]
        text = self.check((out / "report.html").read_text(encoding="utf-8")).text
        for words in ("Tower without water", "once, 12 h from 2027-07-24 08:00",
                      f"then film died in dry media for {still['dry_h']:.1f} h"):
            self.assertIn(words, text)

    def test_a_comparison_tells_of_hydrogen_sulfide(self):
        out = self.folder / "all"
        process = towerloop("compare", ROOT / "scenarios" / "open-air-or-submerged.yaml", "--out", out,
                            "--report", "--no-charts")
        self.expect(process, 0)
        self.assertNotIn("ithout danger", process.stdout)
        self.assertIn("(hydrogen sulfide can form)", " ".join(process.stdout.split()))
        text = self.check((out / "report.html").read_text(encoding="utf-8")).text
        self.assertIn("Hydrogen sulfide can form: ", text)

    def test_words_of_the_scenario_stay_words(self):
        text = self.made(CANARY)
        page = self.check(text)
        self.assertEqual([t for t in ("<script", "<img", "<b>EUR") if t in text], [])
        self.assertIn("<script>alert(1)</script> \"'&amp; ]]> --> \u05d0\u05d1\u05d2", page.text)
        self.assertIn("<img src=x onerror=alert(2)>", page.text)
        self.assertIn("<b>EUR</b>", page.text)
        # the changed parameter stands first, with its default
        self.assertRegex(page.text, r"Changed by the scenario.*mu_aob\s*0\.7 1/d\s*0\.78 1/d\s*published")

    def test_words_of_tampered_results_stay_words(self):
        self.made()
        path = self.folder / "out" / "summary.json"
        summary = json.loads(path.read_text())
        summary["warnings"] = ["\u202eliame <script>", "a\u0001b\u2028\ufeff"]
        summary["limiting"] = "</p><script>alert(4)</script>"
        summary["advice"] = [{"lever": "<svg onload=alert(5)>", "because": "\u2066x", "cost_to_build_more": 12.5,
                              "cost_over_run_more": -3}]
        path.write_text(json.dumps(summary))
        self.expect(towerloop("report", self.folder / "out"), 0)
        text = (self.folder / "out" / "report.html").read_text(encoding="utf-8")
        page = self.check(text)
        self.assertNotRegex(text, "[\u202e\u2066\u2028\ufeff\x01]")
        self.assertIn("</p><script>alert(4)</script>", page.text)
        self.assertIn("To build it costs 12.50", page.text)
        self.assertIn("3.00 less", page.text)

    def test_within_limits_says_with_which_parameters(self):
        self.expect(towerloop("run", ROOT / "scenarios" / "compare-trays.yaml", "--out", self.folder / "out",
                              "--no-charts", "--report"), 0)
        page = self.check((self.folder / "out" / "report.html").read_text(encoding="utf-8"))
        self.assertIn("Verdict: within limits. No limit was passed, with default parameters.", page.text)
        self.assertIn("Nothing has to change", page.text)

    def test_advice_has_prices(self):
        self.expect(towerloop("run", ROOT / "scenarios" / "compare-trays.yaml", "--out", self.folder / "out",
                              "--no-charts", "--report", "--set", "tower.trays=8", "--set", "fish[0].count=60",
                              "--set", "length=30 d"), 0)
        summary = json.loads((self.folder / "out" / "summary.json").read_text())
        price = {a["lever"]: (a["cost_to_build_more"], a["cost_over_run_more"]) for a in summary["advice"]}
        # four trays more: 0.4 a litre of media, 3 in deep on 4 ft2, and 12 a tray
        build, running = price["12 trays instead of 8"]
        self.assertAlmostEqual(build, 4 * (400 * 0.0762 * 4 * 0.09290304 + 12), 6)
        self.assertEqual(running, 0)
        # 10 % of 12 m3 more each day for 30 days, at 4 a m3
        build, running = price["trickle in 20 % of the tank a day instead of 10 %"]
        self.assertEqual(build, 0)
        self.assertAlmostEqual(running, 30 * 1.2 * 4, 6)
        page = self.check((self.folder / "out" / "report.html").read_text(encoding="utf-8"))
        self.assertIn("To build it costs 93.31 EUR more. To run it these 30 days costs no more.", page.text)
        self.assertIn("To run it these 30 days costs 144.00 EUR more.", page.text)

    def test_without_gnuplot(self):
        text = self.made(env=without_gnuplot(self.folder))
        page = self.check(text)
        self.assertEqual(len(pictures(text)), 1, "the loop is our own")
        self.assertIn("No charts were drawn on this machine: gnuplot is missing.", page.text)
        self.assertIn("Numbers of this chart", page.text)
        self.expect(towerloop("report", self.folder / "out", env=without_gnuplot(self.folder)), 0)
        text = self.made(SMALL, "--no-charts")
        self.assertIn("Charts were not asked for", self.check(text).text)

    def test_every_shipped_scenario_can_be_reported(self):
        for path in sorted((ROOT / "scenarios").glob("*.yaml")):
            with self.subTest(path.name):
                self.expect(towerloop("run", path, "--out", self.folder / path.stem, "--no-charts", "--report",
                                      "--set", "length=30 d" if "events" not in path.read_text() else "report every=1 d",
                                      ), 0)
                self.check((self.folder / path.stem / "report.html").read_text(encoding="utf-8"))

    def test_folders(self):
        self.made()
        out, elsewhere = self.folder / "out", self.folder / "new" / "place"
        self.expect(towerloop("run", self.folder / "pond.yaml", "--out", out, "--force"), 0)
        self.assertFalse((out / "report.html").exists())
        self.expect(towerloop("report", out, "--out", elsewhere), 0)
        self.assertEqual([p.name for p in elsewhere.iterdir()], ["report.html"])
        process = towerloop("report", out, "--out", elsewhere)
        self.expect(process, 1)
        self.assertIn("--force", process.stderr)
        self.expect(towerloop("report", out, "--out", elsewhere, "--force", "--quiet"), 0)
        (elsewhere / "report.html").write_text("<html>mine</html>")
        process = towerloop("report", out, "--out", elsewhere, "--force")
        self.expect(process, 1)
        self.assertIn("report.html is there already and bears no mark of towerloop", process.stderr)
        self.assertEqual((elsewhere / "report.html").read_text(), "<html>mine</html>")
        for folder in (self.folder, self.folder / "none"):
            process = towerloop("report", folder)
            self.expect(process, 2)
            self.assertIn("expected the folder of a run, a comparison or a spread", process.stderr)
        self.expect(towerloop("endure", self.folder / "pond.yaml", "--out", self.folder / "endure", "--no-charts",
                              "--at", "12:00"), 0)
        process = towerloop("report", self.folder / "endure")
        self.expect(process, 2)
        self.assertIn("endure holds the results of endure, which have no page; expected the folder of a run",
                      process.stderr)
        (out / "series.csv").write_text("time_d\n")
        process = towerloop("report", out)
        self.assertNotEqual(process.returncode, 0)
        self.assertIn("series.csv", process.stderr)
        self.assertFalse((out / "report.html").exists())
        (out / "report.html").mkdir()
        process = towerloop("report", out)
        self.expect(process, 1)
        self.assertIn("is no file", process.stderr)


# --- colours ---------------------------------------------------------------------------------------------------


def luminance(colour):
    """Of "#rrggbb" (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a, b):
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


# Words on what, and shapes beside what (success criteria 1.4.3 and 1.4.11).
WORDS = [("ink", "paper"), ("soft", "paper"), ("ink", "band"), ("link", "paper"), ("danger", "paper"),
         ("caution", "paper"), ("within", "paper"), ("ink", "water"), ("ink", "air"), ("nitrogen", "water"),
         ("oxygen", "water"), ("nitrogen", "air"), ("oxygen", "air"), ("nitrogen", "paper"), ("oxygen", "paper")] + [
             (word, back + "-back") for back in ("danger", "caution", "within")
             for word in ("ink", "danger", "caution", "within")]
SHAPES = [("pipe", "paper"), ("line", "paper"), ("line", "water"), ("line", "media"), ("line", "air"), ("focus", "paper"),
          ("danger", "paper"), ("caution", "paper"), ("within", "paper")]


class Colours(unittest.TestCase):
    """The style sheet's colours by day, by night and on paper."""

    def test_a_known_ratio(self):
        self.assertAlmostEqual(contrast("#000000", "#ffffff"), 21, 6)
        self.assertAlmostEqual(contrast("#767676", "#ffffff"), 4.54, 2)  # the darkest grey's usual example

    def test_every_pair(self):
        css = (ROOT / "src" / "html" / "report.css").read_text(encoding="utf-8")
        blocks = re.findall(r":root \{(.*?)\}", css, re.DOTALL)
        self.assertEqual(len(blocks), 3)
        names = None
        for block in blocks:
            colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))
            names = names or set(colours)
            self.assertEqual(set(colours), names, "every scheme has every colour")
            for pairs, least in ((WORDS, 4.5), (SHAPES, 3)):
                for front, back in pairs:
                    with self.subTest(front=front, back=back):
                        self.assertGreaterEqual(contrast(colours[front], colours[back]), least)
        rest = re.sub(r":root \{.*?\}", "", css, flags=re.DOTALL)
        self.assertNotRegex(rest, r"#[0-9a-fA-F]{3,8}\b(?! *\{)", "a colour outside of the schemes")


# --- in a browser ------------------------------------------------------------------------------------------------

# Every element with words of its own: its colour against the nearest background that is painted.
TEXT_CONTRAST = r"""(() => {
  const number = c => (c.match(/[\d.]+/g) || []).map(Number);
  const lum = ([r, g, b]) => [r, g, b].map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
  const found = [];
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('svg') || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    if (!e.checkVisibility()) continue;
    let back = [255, 255, 255];
    for (let p = e; p; p = p.parentElement) {
      const c = number(getComputedStyle(p).backgroundColor);
      if (c.length === 3 || c[3] === 1) { back = c; break; }
    }
    const [a, b] = [lum(number(getComputedStyle(e).color)), lum(back)].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) found.push(e.tagName + ' ' + e.textContent.slice(0, 30));
  }
  return found;
})()"""
FOCUSABLE = "[...document.querySelectorAll('a[href], summary, [tabindex=\"0\"]')].filter(e => e.checkVisibility())"
CHROMIUM = browser.program()


class Browser(Made):
    """The page as a browser shows it."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        if not CHROMIUM:
            print("\n*** SKIPPED: no Chromium on this machine, so report.html was NOT looked at in a browser. ***\n"
                  "*** On Debian: apt install chromium                                                     ***",
                  file=sys.stderr)
            raise unittest.SkipTest("no chromium")
        cls.browser = browser.Browser()

    @classmethod
    def tearDownClass(cls):
        if CHROMIUM:
            cls.browser.close()
        super().tearDownClass()

    def opened(self, scenario=SMALL, compare=False, **view):
        if compare:
            self.compared()
        else:
            self.made(scenario)
        path = self.folder / ("all" if compare else "out") / "report.html"
        self.browser.requests.clear()
        self.browser.console.clear()
        self.browser.open(path, **view)
        return path

    def test_in_a_browser(self):
        for scenario, compare in ((SMALL, False), (CANARY, False), (None, True)):
            for width, dark in ((1280, False), (1280, True), (320, False), (320, True)):
                with self.subTest(compare=compare, width=width, dark=dark):
                    path = self.opened(scenario, compare, width=width, dark=dark)
                    self.browser.run("document.querySelectorAll('details').forEach(d => d.open = true)")
                    self.assertEqual(self.browser.run("document.documentElement.scrollWidth"), width, "scrolls sideways")
                    self.assertEqual(self.browser.run(TEXT_CONTRAST), [])
                    self.assertEqual(self.browser.console, [])
                    self.assertEqual(self.browser.requests, [path.resolve().as_uri()])
                    self.assertEqual(self.browser.run("document.scripts.length"), 0)
                    paper, ink = ("rgb(21, 24, 27)", "rgb(235, 233, 228)") if dark else ("rgb(255, 255, 255)", "rgb(27, 27, 27)")
                    self.assertEqual(self.browser.run("getComputedStyle(document.body).backgroundColor"), paper)
                    self.assertEqual(self.browser.run("getComputedStyle(document.body).color"), ink)

    def test_targets_are_large_enough(self):
        self.opened(width=320)
        small = self.browser.run(f"{FOCUSABLE}.filter(e => {{ const r = e.getBoundingClientRect();"
                                 " return !e.classList.contains('skip') && (r.height < 24 || r.width < 24); }).length")
        self.assertEqual(small, 0)  # WCAG 2.2, 2.5.8

    def test_the_keyboard_reaches_everything_in_order(self):
        self.opened()
        count = self.browser.run(f"{FOCUSABLE}.length")
        seen = []
        for _ in range(count):
            self.browser.press("Tab", 9)
            seen.append(self.browser.run(f"{FOCUSABLE}.indexOf(document.activeElement)"))
            style = self.browser.run("(() => { const s = getComputedStyle(document.activeElement);"
                                     " return s.outlineStyle + ' ' + parseFloat(s.outlineWidth); })()")
            self.assertRegex(style, r"^(solid|auto) [1-9]", "focus cannot be seen")
        self.assertEqual(seen, list(range(count)))

    def test_the_skip_link_and_the_contents_work(self):
        self.opened()
        self.browser.press("Tab", 9)
        self.assertEqual(self.browser.run("document.activeElement.className"), "skip")
        self.assertGreaterEqual(self.browser.run("document.activeElement.getBoundingClientRect().top"), 0)
        self.browser.press("Enter", 13, text="\r")
        self.assertEqual(self.browser.run("document.activeElement.id"), "main")
        self.browser.run("document.querySelector('nav a[href=\"#charts\"]').focus()")
        self.browser.press("Enter", 13, text="\r")
        self.assertEqual(self.browser.run("location.hash"), "#charts")
        self.browser.run("document.querySelector('summary').focus()")
        self.browser.press("Enter", 13, text="\r")
        self.assertTrue(self.browser.run("document.querySelector('details').open"))

    def test_the_policy_keeps_everything_out(self):
        """Were markup to come in, it could neither run nor fetch."""
        path = self.opened()
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("<main", "<script>document.title = 'run'</script><img src='http://example.invalid/a.png'>"
                                     "<link rel=stylesheet href='http://example.invalid/a.css'><main", 1), encoding="utf-8")
        self.browser.requests.clear()
        self.browser.open(path)
        self.assertNotEqual(self.browser.run("document.title"), "run")
        self.assertFalse([r for r in self.browser.requests if not r.startswith("file:") and not r.startswith("http://example.invalid")])
        self.assertTrue(self.browser.console, "the policy said nothing")

    def test_it_prints(self):
        self.opened()
        for width, height in ((8.27, 11.69), (8.5, 11)):  # A4, Letter
            pdf = self.browser.pdf(width, height)
            pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
            self.assertTrue(4 <= pages <= 11, pages)
        # a table begins below what stands before it, and goes on over the page: no first page of a verdict alone
        self.browser.ask("Emulation.setEmulatedMedia", media="print")
        held = "[...document.querySelectorAll('%s')].map(e => getComputedStyle(e).breakInside)"
        self.assertEqual(set(self.browser.run(held % ".scroll, table, section")), {"auto"})
        self.assertEqual(set(self.browser.run(held % "tr, figure")), {"avoid"})
        # the page of the loop goes on with the cautions, and no page has but the words that a text is not on it
        ids = self.browser.run("[...document.querySelectorAll('main h2')].filter(e => e.offsetParent).map(e => e.id)")
        self.assertEqual(ids[ids.index("loop"):], ["loop", "cautions", "charts", "asked", "assumed"])
        self.assertEqual(self.browser.run("getComputedStyle(document.querySelector('#charts')).breakBefore"), "auto")
        self.browser.ask("Emulation.setEmulatedMedia", media="")

    def test_dates_stay_whole(self):
        """Broken between date, clock and day at most, however narrow their column."""
        for width in (1280, 900, 320):
            self.opened(CANARY, width=width)
            self.browser.run("document.querySelectorAll('details').forEach(d => d.open = true)")
            dates = self.browser.run("[...document.querySelectorAll('td, th[scope=row]')].flatMap(cell => {"
                                     " const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT), found = [];"
                                     " while (walk.nextNode()) for (const m of walk.currentNode.data.matchAll("
                                     "/\\d{4}-\\d\\d-\\d\\d|\\d\\d:\\d\\d|day \\d+/g)) {"
                                     " const r = document.createRange(); r.setStart(walk.currentNode, m.index);"
                                     " r.setEnd(walk.currentNode, m.index + m[0].length);"
                                     " found.push([m[0], new Set([...r.getClientRects()].map(b => b.top)).size]); }"
                                     " return found; })")
            self.assertGreater(len(dates), 60)
            self.assertEqual([date for date, lines in dates if lines != 1], [], width)

    def test_pictures_for_people(self):
        """Kept where TOWERLOOP_PICTURES says, for whoever wants to look at them."""
        folder = os.environ.get("TOWERLOOP_PICTURES")
        for width, dark in ((1280, False), (320, True)):
            self.opened(CANARY, width=width, dark=dark)
            picture = self.browser.picture()
            self.assertGreater(len(picture), 100000)
            if folder:
                (pathlib.Path(folder) / f"report-{width}-{'dark' if dark else 'light'}.png").write_bytes(picture)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
