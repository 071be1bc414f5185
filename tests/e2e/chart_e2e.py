"""End-to-end tests of `chart`: the charts of a run drawn again.

usage: chart_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
import unittest
import xml.etree.ElementTree
import zlib

sys.dont_write_bytecode = True
from run_e2e import CHARTS, DAY, PROGRAM, SMALL, EndToEnd, environment, towerloop, without_gnuplot  # noqa: E402

TEMPERATURES = "time_d,temperature_degC\n0,14\n1.5,20\n3,17\n"

# Everything a chart takes from the scenario: title, dates, events with their units, limits, a file.
VARIED = SMALL.replace("title: Small loop", 'title: "Größter \\"Test\\" & 100 %"').replace(
    "temperature: 20 degC", "temperature: {file: warm.csv}") + """\
events:
  - {at: day 1 06:00, pump: {flow: 1200 gal/h}, for: 4 h}
  - {at: day 1 12:00, dose: {salt: 2 kg}}
  - {at: day 2, change water: 20 %}
  - {at: day 2 06:00, add fish: {name: koi, count: 3, mean mass: 500 g}}
limits: {oxygen: {caution: 7 mg/L, danger: 4 mg/L}}
"""


def names(folder, *endings):
    return sorted(f"{chart}.{ending}" for chart in CHARTS + DAY for ending in endings)


def bytes_in(folder):
    """A digest of each file: what is compared is told apart at once."""
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def svg_texts(path):
    """Width and height of a picture, and (words, size, x, y) of each text; x is that of its middle."""
    root = xml.etree.ElementTree.parse(path).getroot()
    width, height = map(float, root.get("viewBox").split()[2:])
    texts = []
    for group in root.iter():
        words = "".join("".join(e.itertext()) for e in group if e.tag.endswith("}text")).strip()
        if not words:
            continue
        x, y = map(float, re.fullmatch(r"translate\(([\d.-]+),([\d.-]+)\)", group.get("transform")).groups())
        size = float(group.get("font-size"))
        x += {"start": 0.5, "middle": 0, "end": -0.5}[group.get("text-anchor")] * length_of(words, size)
        texts.append((words, size, x, y))
    return width, height, texts


def length_of(words, size):
    """About as long as a sans-serif type makes it: 0.6 of its size a letter."""
    return 0.6 * size * len(words)


def pdf_page(path):
    """What the page is drawn with, as text; its width and height in points."""
    data = path.read_bytes()
    size = re.search(rb"/MediaBox \[\s*0 0 ([\d.]+) ([\d.]+)", data).groups()
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL):
        try:
            text = zlib.decompress(stream).decode("latin-1")
        except zlib.error:
            continue
        if " Tm\n" in text:
            return text, tuple(map(float, size))
    raise AssertionError(f"{path} holds no page with text")


class Drawn(EndToEnd):
    """A run without charts to draw from, and `chart` on it."""

    def setUp(self):
        super().setUp()
        self.run = self.folder / "out"
        self.elsewhere = self.folder / "elsewhere"

    def simulate(self, *args, text=SMALL, **options):
        (self.folder / "warm.csv").write_text(TEMPERATURES, encoding="utf-8")
        self.expect(self.run_small(*args, text=text, **options), 0)

    def chart(self, *args, status=0, env=None, **options):
        process = towerloop("chart", *args, env=env or environment(), **options)
        self.expect(process, status)
        self.assertEqual(process.stdout, "", "all that chart says is not its result")
        for line in process.stderr.splitlines():
            self.assertNotRegex(line, r"\x1b|\r")
        return process.stderr

    def left_in(self, folder):
        return sorted(path.name for path in folder.iterdir())


class Charts(Drawn):
    def test_the_same_charts_as_of_the_run(self):
        for number, args in enumerate(([], ["--units", "us"], ["--set", "tower.trays=5"])):
            out = self.folder / f"run {number}"
            self.simulate(*args, text=VARIED, out=out.name, env=environment())
            before = bytes_in(out / "charts")
            self.assertEqual(sorted(before), names(out, "png", "svg"))
            units = args if "us" in args else []
            self.chart(out, "--out", self.folder / f"again {number}", *units)
            self.assertEqual(before, bytes_in(self.folder / f"again {number}"), args)
            # and over the old ones
            self.chart(out, *units)
            self.assertEqual(before, bytes_in(out / "charts"), args)

    def test_from_a_run_without_charts(self):
        self.simulate("--no-charts")
        self.assertFalse((self.run / "charts").exists())
        said = self.chart(self.run)
        self.assertEqual(said, f"Charts: {self.run}/charts\n")
        self.check_charts(self.run, "Small loop")
        # still the folder of a run, to be replaced by another
        self.simulate("--no-charts", "--force")
        self.assertFalse((self.run / "charts").exists())

    def test_green_water_has_a_panel(self):
        sunny = SMALL + "sun: {hours: 12 h}\n"
        green = sunny.replace("wetted walls: 18 m2", "wetted walls: 18 m2, green water: 20 mg/L as COD")
        for number, text in enumerate((sunny, green)):
            out = self.folder / f"sunny {number}"
            self.simulate(text=text, out=out.name)
            self.chart(out, "--format", "svg")
            drawn = {words for words, *_ in svg_texts(out / "charts" / "oxygen.svg")[2]}
            self.assertEqual(bool(number), "Green water, mg/L as COD" in drawn)
            self.assertEqual(bool(number), "algae afloat" in drawn)

    def test_formats(self):
        self.simulate("--no-charts")
        for listed, endings in (("svg", ["svg"]), ("pdf,png", ["pdf", "png"]), ("pdf,pdf", ["pdf"])):
            place = self.folder / listed
            self.chart(self.run, "--format", listed, "--out", place)
            self.assertEqual(self.left_in(place), names(place, *endings))
        for name in CHARTS + DAY:
            self.check_png(self.folder / "pdf,png" / f"{name}.png")
            pdf_page(self.folder / "pdf,png" / f"{name}.pdf")
        for listed in ("", "gif", "png,", ",png", "PNG", "png svg", "png,gif"):
            said = self.chart(self.run, "--format", listed, "--out", self.elsewhere, status=2)
            self.assertIn("expected png, svg, pdf", said, listed)
        self.assertFalse(self.elsewhere.exists())

    def test_pdf_pages_look_like_the_svg(self):
        self.simulate("--no-charts")
        for units in ("metric", "us"):
            place = self.folder / units
            self.chart(self.run, "--format", "pdf,svg", "--units", units, "--out", place)
            for name in CHARTS + DAY:
                page, (width, height) = pdf_page(place / f"{name}.pdf")
                svg_width, svg_height, texts = svg_texts(place / f"{name}.svg")
                self.assertEqual((width, height), (svg_width, svg_height))
                drawn = re.findall(r"^([\d.]+) 0 0 -?\1 ([\d.-]+) ([\d.-]+) Tm$", page, re.MULTILINE)
                self.assertEqual({float(size) for size, _, _ in drawn}, {text[1] for text in texts}, "type as large as in the SVG")
                for _, x, y in drawn:
                    self.assertTrue(0 < float(x) < width and 0 < float(y) < height, (name, x, y))
                strokes = {float(w) for w in re.findall(r"stroke-width=\"([\d.]+)\"",
                                                        (place / f"{name}.svg").read_text("utf-8"))}
                lines = {float(w) for w in re.findall(r"([\d.]+) w$", page, re.MULTILINE)}
                self.assertLessEqual(lines, strokes, "lines as thick as in the SVG")
                self.assertGreater(len(lines), 1)

    def test_units_of_the_axes(self):
        self.simulate("--no-charts", text=VARIED)
        for units, has, lacks in (("metric", ["degC", "g/d", "pump 4.54 m3/h", "2 kg salt"],
                                   ["degF", "lb", "gal"]),
                                  ("us", ["degF", "lb/d", "pump 1200 gal/h", "4.41 lb salt"], ["degC", "g/d", "m3/h"])):
            self.chart(self.run, "--units", units, "--format", "svg", "--out", self.folder / units)
            words = " | ".join(text[0] for name in CHARTS + DAY
                               for text in svg_texts(self.folder / units / f"{name}.svg")[2])
            for word in has:
                self.assertRegex(words, rf"[ ,]{re.escape(word)}\b", units)
            for word in lacks:
                self.assertNotRegex(words, rf"[ ,]{re.escape(word)}\b", units)
            self.assertNotRegex(words, r"\de[+-]?\d", "no powers of ten")
            for axis in ("Oxygen, mg/L", "Nitrate, mg/L as N", "Alkalinity, mg/L as CaCO3"):
                self.assertIn(axis, words)

    def test_every_word_is_on_the_picture(self):
        self.simulate("--no-charts", text=VARIED)
        self.chart(self.run, "--format", "svg")
        for name in CHARTS + DAY:
            width, height, texts = svg_texts(self.run / "charts" / f"{name}.svg")
            self.assertGreater(len(texts), 10, name)
            for words, size, x, y in texts:
                half = length_of(words, size) / 2
                self.assertTrue(0 <= x - half and x + half <= width, (name, words, x, half))
                self.assertTrue(size <= y <= height - size / 4, (name, words, y))

    # What each chart says: subject, axes with their units, limits by name; besides the title.
    SAYS = {
        "nitrogen": ("Ammonia, nitrite and nitrate in the tank", "Total ammonia, mg/L as N", "Nitrite, mg/L as N",
                     "Nitrate, mg/L as N", "caution above 0.2", "ammonia caution", "ammonia danger",
                     "nitrite danger (off scale)", "caution above 40 (off scale)"),
        "ammonia": ("Un-ionised ammonia, the poisonous part, in the tank",
                    "Un-ionised ammonia (NH3-N), mg/L as N", "caution above 0.02", "un-ionised ammonia"),
        "oxygen": ("Dissolved oxygen", "Oxygen, mg/L", "caution below 7", "danger below 4", "tower outlet",
                   "saturation"),
        "ph_alkalinity": ("pH and alkalinity in the tank", "pH", "Alkalinity, mg/L as CaCO3",
                          "caution below 70", "danger below 40", "caution above 8.5"),
        "biofilm": ("The living film in the tower, tray by tray", "tray 1 (top)", "tray 8 (bottom)",
                    "Heterotrophs (live on dissolved waste), g COD/m2",
                    "Voids between the stones filled with film and trapped solids, %"),
        "overview": ("Overview of the tank", "Total ammonia, mg/L as N", "ammonia danger", "ammonia caution",
                     "Nitrite, mg/L as N", "Oxygen, mg/L", "Alkalinity, mg/L as CaCO3", "caution below 7",
                     "Water temperature, degC", "Feed, g/d"),
        "day": ("One day of the tank, hour by hour: day 2, 3 Jun 2027, the last full day of the run", "Ammonia that the fish give off, g N a day",
                "Total ammonia in the tank, mg/L as N", "Oxygen in the tank, mg/L", "caution below 7 (off scale)",
                "pH in the tank", "day 2, 3 Jun", "06:00", "18:00"),
        "trays": ("Down the tower, tray by tray: day 2, 3 Jun 2027, the last full day of the run", "Oxygen", "mg/L", "Ammonia (TAN)",
                  "mg/L as N", "Nitrite (NO2-N)", "Ammonia oxidisers", "g COD/m2", "water in", "tray 8"),
        "startup": ("How the new filter starts up", "Total ammonia, mg/L as N", "Nitrite, mg/L as N",
                    "ammonia danger", "caution above 0.2",
                    "ready: ammonia below 1", "ready: nitrite below 0.5", "Nitrate, mg/L as N"),
    }
    EVENTS = ("pump 4.54 m3/h, 4 h", "2 kg salt", "20 % water changed", "3 koi added")

    def test_each_chart_says_what_it_shows(self):
        self.simulate("--no-charts", "--set", "tower.biofilm=seeded 5 %", text=VARIED)
        self.chart(self.run, "--format", "svg")
        self.assertEqual(self.left_in(self.run / "charts"), sorted(f"{name}.svg" for name in self.SAYS))
        for name, says in self.SAYS.items():
            words = [text[0] for text in svg_texts(self.run / "charts" / f"{name}.svg")[2]]
            for expected in ('Größter "Test" & 100 %', *says):
                self.assertIn(expected, words, name)
            events = {"day": self.EVENTS[2:], "trays": ()}.get(name, self.EVENTS)
            for expected in events:
                self.assertIn(expected, words, name)
        day = [text[0] for text in svg_texts(self.run / "charts" / "day.svg")[2]]
        # a share of the ration each: 0.8 %/d of 6 kg, and of the fish that are added at 06:00
        self.assertEqual([word for word in day if word.startswith("meal")], ["meal, 30 g", "meal, 30 g"])
        self.assertNotIn("2 kg salt", day)

    def test_a_chosen_day(self):
        self.simulate("--no-charts", text=VARIED)
        self.chart(self.run, "--format", "svg", "--day", "1")
        for name in DAY:
            words = [text[0] for text in svg_texts(self.run / "charts" / f"{name}.svg")[2]]
            self.assertRegex(" | ".join(words), "day 1, 2 Jun")
        self.assertIn("2 kg salt", [text[0] for text in svg_texts(self.run / "charts" / "day.svg")[2]])
        for day, reason in (("3", "'3' is no full day of this run; expected 0 to 2"), ("-1", "'-1' is no day"),
                            ("1.5", "'1.5' is no day"), ("", "'' is no day"), ("noon", "'noon' is no day")):
            said = self.chart(self.run, "--day", day, "--out", self.elsewhere, status=2)
            self.assertIn(f"--day: {reason}", said)
        self.assertFalse(self.elsewhere.exists())

    def test_hours_are_no_day(self):
        self.simulate("--no-charts", text=SMALL.replace("length: 3 d", "length: 2 h").replace("every: 1 h", "every: 5 min"))
        self.chart(self.run, "--format", "svg")
        self.assertEqual(self.left_in(self.run / "charts"), sorted(f"{name}.svg" for name in CHARTS))
        words = [text[0] for text in svg_texts(self.run / "charts" / "overview.svg")[2]]
        for clock in ("00:00", "00:30", "01:45", "02:00"):
            self.assertIn(clock, words)
        self.assertIn("this run has no full day", self.chart(self.run, "--day", "0", status=2))

    def test_rows_far_apart_hide_no_lowest_oxygen(self):
        """What the verdict knows stands on the chart and in the report's table, however far apart the rows are."""
        outage = "events: [{at: day 1 14:00, power: off, for: 5 h}]\n"
        for every in ("1 h", "12 h"):
            self.simulate("--no-charts", "--force", "--report", text=SMALL.replace("every: 1 h", f"every: {every}") + outage)
            self.chart(self.run, "--format", "svg", "--force")
            words = [text[0] for text in svg_texts(self.run / "charts" / "oxygen.svg")[2]]
            oxygen = next(row for row in json.loads((self.run / "summary.json").read_text())["limits"]
                          if row["name"] == "oxygen")
            worst, clock = f"{oxygen['worst']:.3g}", oxygen["worst_time"][11:16]
            self.assertIn(f"lowest in the tank: {worst} mg/L, day 1 {clock}", words)
            far = [word for word in words if word.startswith("Rows 12 h apart: ")]
            self.assertEqual(len(far), every == "12 h", words)
            page = (self.run / "report.html").read_text(encoding="utf-8")
            charts = page[page.index('id="charts"'):]
            self.assertEqual("It is made from rows 12 h apart" in charts, every == "12 h")
            self.assertTrue(re.search(rf'<td class="number">{re.escape(worst)}(?: to |<)', charts), worst)

    def test_untreated_water_has_its_words(self):
        """A change whose chlorine nothing meets, by plan or by an event."""
        changed = SMALL.replace("chloride: 20 mg/L", "chloride: 20 mg/L, chlorine: 1 mg/L").replace(
            "trickle: 10 %/d", "every: 1 d, amount: 20 %")+ """\
events:
  - {at: day 1, dose: {sodium thiosulfate: 10 g}}
  - {at: day 1 12:00, change water: 30 %}
"""
        treated = changed.replace("chlorine: 1 mg/L", "chlorine: 1 mg/L, dechlorinated: yes")
        for number, text in enumerate((treated, changed)):
            self.simulate("--no-charts", "--force", text=text)
            self.chart(self.run, "--format", "svg", "--force")
            words = [text[0] for text in svg_texts(self.run / "charts" / "overview.svg")[2]]
            for expected in ("20 % water changed, untreated", "30 % water changed, untreated"):
                self.assertEqual(words.count(expected), number, words)
            self.assertEqual(bool(number), "Chlorine or chloramine in the tank, mg/L" in words)

    def test_what_no_font_has_is_told(self):
        programs = self.folder / "programs"
        programs.mkdir()
        (programs / "fc-match").write_text("#!/bin/sh\necho 20-7e\n", encoding="utf-8")
        (programs / "fc-match").chmod(0o755)
        env = environment(PATH=f"{programs}{os.pathsep}{os.environ['PATH']}")
        self.simulate("--no-charts", text=SMALL.replace("Small loop", "Small \u9bc9 loop"))
        said = self.chart(self.run, env=env).splitlines()
        self.assertEqual([line for line in said if "no font on this computer has \u9bc9: " in line], said[:1])
        self.chart(self.run, "--format", "svg", "--force", env=env)
        self.assertNotIn("font", self.chart(self.run, "--format", "svg", "--force", env=env))

    def test_quiet(self):
        self.simulate("--no-charts")
        self.assertEqual(self.chart(self.run, "--quiet", "--format", "svg"), "")
        self.assertEqual(self.left_in(self.run / "charts"), names(self.run, "svg"))

    def test_folders_above_are_made(self):
        self.simulate("--no-charts")
        self.chart(self.run, "--format", "svg", "--out", str(self.elsewhere / "a" / "b") + "/")
        self.assertEqual(self.left_in(self.elsewhere / "a" / "b"), names(None, "svg"))

    def test_a_run_that_was_moved_or_is_named_with_a_slash(self):
        self.simulate("--no-charts", text=VARIED)
        self.run.rename(self.elsewhere)
        (self.folder / "warm.csv").unlink()
        self.chart("elsewhere/", "--format", "svg", cwd=self.folder)
        self.assertEqual(self.left_in(self.elsewhere / "charts"), names(None, "svg"))


class Refusals(Drawn):
    def test_nothing_is_drawn_through_a_link(self):
        self.simulate("--no-charts")
        self.elsewhere.mkdir()
        (self.elsewhere / "overview.png").write_text("mine")
        link = self.run / "charts"
        link.symlink_to(self.elsewhere)
        for more in ([], ["--out", link, "--force"]):
            self.assertIn("charts is there already and is no folder", self.chart(self.run, *more, status=1))
        self.assertEqual(self.left_in(self.elsewhere), ["overview.png"])
        self.assertEqual((self.elsewhere / "overview.png").read_text(), "mine")

    def test_pictures_elsewhere_are_kept_without_force(self):
        self.simulate("--no-charts")
        self.elsewhere.mkdir()
        mine = self.elsewhere / "oxygen.svg"
        mine.write_text("mine")
        (self.elsewhere / "notes.txt").write_text("mine too")
        for force in ([], ["--force"]):
            said = self.chart(self.run, "--out", self.elsewhere, *force, status=1)
            self.assertIn(f"{mine} is there already and bears no mark of towerloop", said)
            self.assertNotIn("--force", said)
        self.assertEqual(self.left_in(self.elsewhere), ["notes.txt", "oxygen.svg"])
        self.assertEqual(mine.read_text(), "mine")
        # a picture in another format is in nobody's way
        self.chart(self.run, "--out", self.elsewhere, "--format", "png")
        self.assertEqual(mine.read_text(), "mine")
        mine.unlink()
        every = ("png", "svg", "pdf")
        for kind in every:
            self.chart(self.run, "--out", self.elsewhere, "--force", "--format", kind)
        before = bytes_in(self.elsewhere)
        said = self.chart(self.run, "--out", self.elsewhere, status=1)
        self.assertRegex(said, r"is there already; --force replaces it")
        for kind in every:
            self.chart(self.run, "--out", self.elsewhere, "--force", "--format", kind)
        self.assertEqual(bytes_in(self.elsewhere).keys(), before.keys())
        # drawn by the same program, but not by towerloop; or changed since
        for kind in every:
            mine = self.elsewhere / f"oxygen.{kind}"
            whole = mine.read_bytes()
            for other in (whole.replace(b"towerloop", b"something"), whole + b"mine", whole[:-20], b""):
                mine.write_bytes(other)
                said = self.chart(self.run, "--out", self.elsewhere, "--force", "--format", kind, status=1)
                self.assertIn(f"{mine} is there already and bears no mark", said)
                self.assertEqual(mine.read_bytes(), other)
            mine.write_bytes(whole)
        self.assertEqual((self.elsewhere / "notes.txt").read_text(), "mine too")

    def test_a_link_in_the_place_of_a_picture(self):
        self.simulate("--no-charts")
        self.elsewhere.mkdir()
        precious = self.write("precious", "precious.txt")
        link = self.elsewhere / "oxygen.svg"
        link.symlink_to(precious)
        for force in ([], ["--force"]):
            said = self.chart(self.run, "--out", self.elsewhere, "--format", "svg", *force, status=1)
            self.assertIn(f"{link} is no file, so it is left alone", said)
        self.assertTrue(link.is_symlink())
        self.assertEqual(precious.read_text(), "precious")

    def test_what_is_no_run(self):
        (self.folder / "empty").mkdir()
        foreign = self.folder / "foreign"
        foreign.mkdir()
        (foreign / "summary.json").write_text(json.dumps({"format": 1, "holiday": "snaps"}))
        file = self.write("in the way", "file")
        for what in (self.folder / "nowhere", self.folder / "empty", foreign, file, ""):
            said = self.chart(what, "--out", self.elsewhere, status=2)
            self.assertIn("holds no results of towerloop; expected the folder of a run", said)
            self.assertIn(str(what) or "''", said)
            self.assertEqual(len(said.splitlines()), 1)
        self.assertFalse(self.elsewhere.exists())
        self.assertEqual(self.left_in(foreign), ["summary.json"])
        scenario = self.write(SMALL, "small.yaml")
        self.expect(towerloop("compare", scenario, "--vary", "tower.trays=2,3", "--out", self.folder / "two",
                              "--no-charts"), 0)
        said = self.chart(self.folder / "two", status=2)
        self.assertIn("two holds the results of compare, whose charts only compare itself draws; expected the folder "
                      "of a run or a spread", said)

    def test_bad_usage(self):
        self.simulate("--no-charts")
        for args in ([], [self.run, self.run], [self.run, "--rtol", "1e-6"], [self.run, "--units", "feet"],
                     [self.run, "--out", ""], [self.run, "--format"], [self.run, "--set", "tower.trays=3"]):
            self.assertNotEqual(self.chart(*args, status=2), "", args)
        self.assertFalse((self.run / "charts").exists())

    def test_a_run_with_something_missing(self):
        self.simulate("--no-charts")
        rows = (self.run / "series.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        kept = (self.run / "scenario.yaml").read_text(encoding="utf-8")
        short = "".join(",".join(row.split(",")[:10]) + "\n" for row in rows)
        swapped = rows[0].replace("tank_tan_mgN_L,tank_nh3_mgN_L", "tank_nh3_mgN_L,tank_tan_mgN_L")
        self.assertNotEqual(swapped, rows[0])
        oxygen, ph = (rows[0].split(",").index(name) for name in ("tank_o2_mg_L", "tank_ph"))

        def with_cell(at, value):
            cells = rows[5].split(",")
            cells[at] = value
            return "".join(rows[:5] + [",".join(cells)] + rows[6:])

        for series, reason in ((None, "No such file"), ("", ":0: the file is empty"),
                               (rows[0], ":1: this is the last row"),
                               ("".join(rows) + "what?\n", rf':{len(rows) + 1}: time_d is "what\?"'),
                               ("".join(rows[:3] + rows[1:2]), ":4: the time falls"),
                               ("".join(rows[:12]), r":12: this is the last row, at \S+; expected the end"),
                               ("".join(rows)[:-9], rf":{len(rows)}: this is not a whole line"),
                               ("".join([swapped, *rows[1:]]), ':1: column 3 is called "tank_nh3_mgN_L"; expected "tank_tan'),
                               (with_cell(oxygen, "1e308"), ':6: tank_o2_mg_L is "1e308"'),
                               (with_cell(ph, "-40"), ':6: tank_ph is "-40"'),
                               (with_cell(ph, "nan"), ':6: tank_ph is "nan"'),
                               (short, ':1: column 11 is called "";')):
            path = self.run / "series.csv"
            path.unlink(missing_ok=True)
            if series is not None:
                path.write_text(series, encoding="utf-8")
            said = self.chart(self.run, status=1 if series is None else 2)
            self.assertRegex(said, rf"{re.escape(str(path))}.*{reason}")
            said = towerloop("report", self.run, "--out", self.folder / "page")
            self.assertNotEqual(said.returncode, 0)
            self.assertRegex(said.stderr, rf"{re.escape(str(path))}.*{reason}")
            self.assertEqual(self.left_in(self.run), sorted(
                {"scenario.yaml", "summary.json", "calendar.csv", "calendar.ics"} | ({"series.csv"} if series is not None else set())))
        path = self.run / "scenario.yaml"
        path.write_text(re.sub(r"^length:.*$", "length: soon", kept, flags=re.MULTILINE), encoding="utf-8")
        self.assertRegex(self.chart(self.run, status=2), r"scenario\.yaml:\d+:\d+: length: ")
        path.unlink()
        self.assertRegex(self.chart(self.run, status=2), r"scenario\.yaml: No such file")

    def test_places_that_cannot_be(self):
        self.simulate("--no-charts")
        self.write("in the way", "file")
        for place in ("file", "file/below", "file/below/it"):
            said = self.chart(self.run, "--out", self.folder / place, status=1)
            self.assertRegex(said, "file is there already and is no folder" if place == "file" else "Not a directory")
        self.assertEqual((self.folder / "file").read_text(), "in the way")


class Gnuplot(Drawn):
    """What `chart` does when gnuplot is missing, fails or is interrupted."""

    def stand_in(self, script):
        """An environment in which gnuplot is this line of shell."""
        place = self.folder / "programs"
        place.mkdir(exist_ok=True)
        path = place / "gnuplot"
        path.write_text("#!/bin/sh\n" + script + "\n", encoding="utf-8")
        path.chmod(0o755)
        return environment(PATH=f"{place}{os.pathsep}{os.environ['PATH']}")

    def setUp(self):
        super().setUp()
        self.simulate("--no-charts")
        self.chart(self.run, "--format", "svg")
        self.before = bytes_in(self.run / "charts")
        self.at_first = self.left_in(self.run)

    def check_nothing_changed(self):
        self.assertEqual(bytes_in(self.run / "charts"), self.before)
        self.assertEqual(self.left_in(self.run), self.at_first)

    def test_missing(self):
        env = without_gnuplot(self.folder)
        said = self.chart(self.run, status=1, env=env)
        self.assertIn("gnuplot is missing", said)
        self.assertIn("install", said)
        self.chart(self.run, "--out", self.elsewhere / "a" / "b", status=1, env=env)
        self.assertFalse(self.elsewhere.exists(), "no empty folders stay")
        self.check_nothing_changed()

    def test_failing(self):
        said = self.chart(self.run, status=1,
                          env=self.stand_in("echo '\"overview.gp\" line 7: no such luck' >&2; exit 1"))
        self.assertIn('could not be drawn: gnuplot failed: "overview.gp" line 7: no such luck', said)
        self.check_nothing_changed()

    def test_pictures_cut_short(self):
        half = "for n in nitrogen ammonia oxygen ph_alkalinity biofilm overview; do echo '<?xml' > $n.svg; done"
        said = self.chart(self.run, "--format", "svg", status=1, env=self.stand_in(half))
        self.assertRegex(said, r"gnuplot's picture \w+\.svg is cut short")
        self.check_nothing_changed()

    def test_interrupted(self):
        env = self.stand_in("touch drawing; sleep 1000")
        for number in (signal.SIGINT, signal.SIGTERM):
            process = subprocess.Popen([str(PROGRAM), "chart", str(self.run)], stdout=subprocess.PIPE,
                                       stderr=subprocess.PIPE, text=True, env=env)
            while process.poll() is None and not list(self.run.glob("charts/.drawing-*/drawing")):
                time.sleep(0.01)
            process.send_signal(number)
            stdout, stderr = process.communicate(timeout=120)
            self.assertEqual((process.returncode, stdout, stderr), (130, "", ""))
            self.check_nothing_changed()


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
