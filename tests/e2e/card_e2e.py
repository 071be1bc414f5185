"""End-to-end tests of `towerloop endure --card`: the emergency card for the wall beside the tank.

usage: card_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...

The class Paper prints the card in a headless Chromium; where there is none it says so and is skipped.
"""

import csv
import html.parser
import json
import pathlib
import re
import subprocess
import sys
import unittest

sys.dont_write_bytecode = True
import browser  # noqa: E402
from run_e2e import PROGRAM, ROOT, SMALL, EndToEnd, environment, towerloop, without_gnuplot  # noqa: E402

CROWDED = SMALL.replace("count: 12", "count: 60").replace("length: 3 d", "length: 6 d")
EVIL = CROWDED.replace("title: Small loop", 'title: "<script>alert(1)</script> &amp; ' + "W" * 150 + '"')
TAP = CROWDED.replace("chloride: 20 mg/L}", "chloride: 20 mg/L, chlorine: 1.5 mg/L, chlorine form: chloramine}")
FROZEN = CROWDED.replace("temperature: 20 degC", "temperature: from weather\nweather: {air temperature: {mean: -8 degC}, latitude: 48 deg}")
FROZEN += "starting water: {temperature: 0.5 degC}\n"
SOURCE = {"source pH": "7.6", "source ammonia": "0 mg/L as N",
          "source nitrite": "0 mg/L as N", "source nitrate": "2 mg/L as N",
          "source alkalinity": "120 mg/L as CaCO3"}


class Page(html.parser.HTMLParser):
    """The texts of the innermost elements, by element; what would fetch or run."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.texts, self.active = [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.active += [tag] if tag in ("script", "img", "link", "iframe") else []
        self.active += [name for name, value in attrs if name in ("src", "href", "style") or name.startswith("on")]
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, tag

    def handle_data(self, data):
        if data.strip() and self.open[-1] != "style":
            self.texts.append((self.open[-1], " ".join(data.split())))


class Card(EndToEnd):
    def made(self, text=CROWDED, *args, out="study"):
        file = self.write(text)
        done = towerloop("endure", file, "--card", "--out", self.folder / out, *args, env=without_gnuplot(self.folder))
        self.assertEqual(done.returncode, 0, done.stderr)
        return done.stdout

    def rows(self, out="study"):
        with open(self.folder / out / "endure.csv", encoding="utf-8", newline="") as file:
            return {row["case"]: row for row in csv.DictReader(file)}

    def page(self, out="study"):
        return (self.folder / out / "card.html").read_text(encoding="utf-8")

    def minutes(self, shown):
        found = re.fullmatch(r"(?:(\d+) h)? ?(?:(\d+) min)?", shown)
        return 60 * int(found.group(1) or 0) + int(found.group(2) or 0) if found else None

    def check_time(self, cell, minutes, of):
        if minutes == float("inf"):
            self.assertEqual(cell, "over 12 h", of)
        elif minutes < 1:
            self.assertEqual(cell, "at once", of)
        else:
            self.assertEqual(self.minutes(cell), int(minutes + 1e-6), of)

    def check_film(self, flat, answer):
        """The deadline is that of the hour at which most is lost: a tenth is not lost before it, at any hour."""
        by, lost, stage = re.search(r"Before (\d+) h: Keep the media moist.* Without water the filter loses (\d+) % in (\d+) h",
                                    flat).groups()
        film = {f"{stage['hours']:g}": min(stage["aob_left_pct"], stage["nob_left_pct"]) for stage in answer["film"]}
        film["12"] = min(min(start["aob_left_pct"], start["nob_left_pct"]) for start in answer["starts"])
        self.assertAlmostEqual(float(lost), 100 - film[stage], delta=0.51)
        self.assertGreater(film[by], 90)
        self.assertLess(film[stage], 90)


class Content(Card):
    def test_times_are_those_of_the_study(self):
        """Each column is the worst of the hours that were run for it."""
        text, rows = self.made(), self.rows()
        starts = json.loads((self.folder / "study" / "endure.json").read_text(encoding="utf-8"))["starts"]
        for label, case, row in [("Power cut", "failure_power", "power"), ("Pump dead", "failure_pump", "pump"),
                                 ("Aerator dead", "failure_aerator", "aerator"),
                                 ("Power cut, water 24 degC", "fish_100_warmer_4", "warmer_4"),
                                 ("Power cut, half more fish", "fish_150_warmer_0", "fish_150")]:
            shown = re.search(f"(?m)^{label}  +(\\S.*\\S)$", text).group(1)
            cells = re.split("  +", shown)
            self.assertEqual(len(cells), 3, shown)
            for cell, key in zip(cells, ("minutes_to_caution", "minutes_to_danger", "minutes_to_fish_loss")):
                value = min(float(rows[one][key] or "inf") for one in (case, f"soonest_{row}"))
                if row == "power":  # which is what was asked about
                    value = min(float("inf") if start[key] is None else start[key] for start in starts)
                self.check_time(cell, value, (label, key))
        self.assertLess(float(rows["failure_power"]["minutes_to_danger"]), 720)

    def test_first_steps_are_those_of_the_study(self):
        flat, rows = " ".join(self.made().split()), self.rows()
        answer = json.loads((self.folder / "study" / "endure.json").read_text(encoding="utf-8"))
        sized = re.search(r"(\d)\. Before ([^:]+): Start the emergency aerator: at least (\S+) g/h of oxygen, (\S+) W, "
                          r"(\S+) Wh for 12 h", flat)
        self.assertGreaterEqual(float(sized.group(3)), answer["aerator_needed_g_h"])
        self.assertLess(float(sized.group(3)), 1.01 * answer["aerator_needed_g_h"])
        self.assertAlmostEqual(float(sized.group(5)), 12 / 0.7 * float(sized.group(3)), delta=1)
        soonest = min(float(start["minutes_to_caution"]) for start in answer["starts"])
        self.assertEqual(self.minutes(sized.group(2)), int(soonest))
        tan, ph, no2 = re.search(r"Expect up to (\S+) total ammonia at pH (\S+)(?: \([^)]*\))?, (\S+) nitrite", flat).groups()
        after = [rows["failure_power"], rows["warmest_hour"]]
        worst = max(after, key=lambda row: float(row["highest_nh3_mgN_L"]))
        self.assertAlmostEqual(float(tan), float(worst["tan_at_highest_nh3_mgN_L"]), delta=0.05 * float(tan))
        self.assertAlmostEqual(float(ph), float(worst["pH_at_highest_nh3"]), delta=0.051)
        highest = max(float(row["highest_no2_mgN_L"]) for row in after)
        self.assertAlmostEqual(float(no2), highest, delta=0.05 * highest)
        self.check_film(flat, answer)
        starts = len(answer["starts"])
        self.assertIn(f'the worst of {starts} hours tried for "pump and aerator stop"', flat)
        self.assertIn(answer["question"]["at"].replace("T", " at ")[:-3], flat)

    def test_what_no_feed_gains(self):
        gains = []
        for at in ("15:00", "23:00"):
            flat = " ".join(self.made(CROWDED, "--at", at, out=at[:2]).split())
            rows = self.rows(at[:2])
            fed = float(rows["help_feed_stopped"]["minutes_to_danger"] or 720)
            gained = fed - float(rows["failure_power"]["minutes_to_danger"])
            later = re.search(r"Stop feeding\. That puts danger off by (?:at least )?([^.]+)\.", flat)
            self.assertEqual(self.minutes(later.group(1)) if later else 0, int(gained))
            gains.append(gained)
        self.assertGreater(gains[0], 1, "a meal falls into this outage")
        self.assertLess(gains[1], 1, "and none into this one")

    def fix(self, pond, chlorine, form, **bad):
        words = {**SOURCE, "source temperature": pond["temperature"], "source chloride": pond["chloride"], **pond, **bad, "source chlorine": f"{chlorine} mg/L", "source chlorine form": form,
                 "volume": "6.5 m3", "fish": "30 kg"}
        done = towerloop("water", "--fix", "--json", *[f"{key}={value}" for key, value in words.items()])
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)["plan"]

    def grams(self, shown):
        return float(shown.split()[0]) * {"g": 1, "kg": 1000}[shown.split()[1]]

    def check_plan(self, row, plan):
        """Each amount of the row is that of the plan's first step of its kind, and what follows the test is counted."""
        steps = plan["steps"]
        test = next(i for i, s in enumerate(steps) if s["kind"] == "test_again")
        first = {s["kind"]: s["amount"] for s in reversed(steps[:test])}
        self.assertEqual("Stop feeding." in row, "stop_feeding" in first, row)
        self.assertEqual("More air." in row, "more_air" in first, row)
        for kind, pattern, amount in [
                ("change_water", r"Change (\S+) %, (\S+ m3|\S+ L)", lambda s: float(s) / 100),
                ("dechlorinate", r"Thiosulfate: (\S+ k?g) into the new water", self.grams),
                ("salt", r"Salt: (\S+ k?g)", self.grams),
                ("baking_soda", r"Baking soda: (\S+ k?g)", self.grams)]:
            found = re.search(pattern, row)
            self.assertEqual(bool(found), kind in first, (row, kind))
            if found:
                self.assertAlmostEqual(amount(found.group(1)), first[kind], delta=0.006 * first[kind], msg=row)
        if "change_water" in first:
            size, unit = re.search(r"Change \S+ %, (\S+) (m3|L)", row).groups()
            self.assertAlmostEqual(float(size) / (1000 if unit == "L" else 1), 6.5 * first["change_water"], delta=0.02)
        self.assertEqual(re.search(r"Test after (\S+) h", row).group(1), f"{24 * steps[test]['amount']:g}")
        for kind, word in (("change_water", "change"), ("baking_soda", "dose")):
            later = [s for s in steps[test:] if s["kind"] == kind]
            found = re.search(rf"Then up to (\d+) more {word}s?, (\d+) h apart(?:, another (\S+ k?g))?", row)
            self.assertEqual(int(found.group(1)) if found else 0, len(later), row)
            if found:
                self.assertEqual(int(found.group(2)), round(max(s["wait_h"] for s in steps[test:])), row)
            if found and word == "dose":
                self.assertAlmostEqual(self.grams(found.group(3)), sum(s["amount"] for s in later), delta=10)
        left = set(plan["left"]) - {"oxygen", "temperature"}  # not reckoned
        self.assertEqual("Not enough" in row, bool(left), row)
        return set(first)

    def test_amounts_are_those_of_water_fix(self):
        seen = set()
        for text, chlorine, form in [(CROWDED.replace("chloride: 20", "chloride: 1"), 0, "chlorine"),
                                     (TAP, 1.5, "chloramine")]:
            self.made(text, out=form)
            page = Page(self.page(form))
            texts = [t for tag, t in page.texts if tag in ("th", "td", "li")]
            basis = next(t for t in texts if t.startswith("Amounts: for 6.5 m3 of water"))
            degC, ph, alk, chloride = re.search(r"at (\S+) degC, the warmest reckoned with, pH (\S+), alkalinity (\S+) mg/L as CaCO3, chloride (\S+) mg/L",
                                                basis).groups()
            pond = {"temperature": f"{degC} degC", "pH": ph, "alkalinity": f"{alk} mg/L as CaCO3",
                    "chloride": f"{chloride} mg/L", "ammonia": "0 mg/L as N", "nitrite": "0 mg/L as N",
                    "elevation": "0 m"}
            rows = dict(zip(texts, texts[1:]))
            bad = {}
            for label, row in rows.items():
                if found := re.fullmatch(r"(Ammonia|Nitrite) (\S+) mg/L as N", label):
                    bad[label] = row, {found.group(1).lower(): f"{found.group(2)} mg/L as N"}
                if found := re.fullmatch(r"Alkalinity (\S+) mg/L, pH (\S+)", label):
                    bad[label] = row, {"alkalinity": f"{found.group(1)} mg/L as CaCO3", "pH": found.group(2)}
                if label.startswith("Oxygen below"):
                    bad[label] = row, {"oxygen": "2.7 mg/L"}
            self.assertEqual(len(bad), 7, list(rows))
            for label, (row, readings) in bad.items():
                with self.subTest(form=form, label=label):
                    seen |= self.check_plan(row, self.fix(pond, chlorine, form, **readings))
            spilt = re.search(r"over the tank: (\S+ k?g) for each 1 mg/L of chlorine", rows["Tap water ran in"])
            self.assertAlmostEqual(self.grams(spilt.group(1)), 7 * 6.5, delta=0.06)
            new = re.search(r"New tap water: (\S+ k?g) for each 1 m3, at (\S+) mg/L", rows["Tap water ran in"])
            self.assertEqual(float(new.group(2)), chlorine or 4)  # 40 CFR 141.65 where nothing is said
            self.assertAlmostEqual(self.grams(new.group(1)), 7 * float(new.group(2)), delta=0.06)
        self.assertEqual(seen, {"stop_feeding", "more_air", "dechlorinate", "change_water", "salt", "baking_soda"})

    def test_ammonia_that_is_danger(self):
        """As `water` judges it: what is named is not beyond danger by more than its rounding, 10 % more is."""
        row = next(t for tag, t in Page((self.made(), self.page())[1]).texts if tag == "td" and t.startswith("from "))
        named = re.findall(r"(\S+) at pH ([\d.]+\d|\d)", row)
        self.assertEqual([ph for _, ph in named], ["7", "7.5", "8", "8.5", "9"])
        for ammonia, ph in named:
            for times, danger in ((0.999, False), (1.11, True)):
                done = towerloop("water", "--json", "temperature=24 degC", f"pH={ph}",
                                 f"ammonia={times * float(ammonia):.4f} mg/L as N")
                grades = {f["key"]: f["grade"] for f in json.loads(done.stdout)["figures"]}
                self.assertEqual("danger" in (grades["nh3"], grades["tan_acute"]), danger, (ammonia, ph, times))

    def test_nitrite_that_is_danger(self):
        """As `water` judges it, with the chloride of the run."""
        flat = " ".join(self.made().split())
        danger, chloride, caution = re.search(r"Nitrite is danger: from (\S+), with chloride at (\S+) mg/L; from (\S+) caution: "
                                              r"stop feeding; mg/L as N\.", flat).groups()
        for level, name in ((caution, "caution"), (danger, "danger")):
            for times, beyond in ((0.999, False), (1.11, True)):
                done = towerloop("water", "--json", "temperature=24 degC", "pH=7.6", f"chloride={chloride} mg/L",
                                 f"nitrite={times * float(level):.4f} mg/L as N")
                grade = {f["key"]: f["grade"] for f in json.loads(done.stdout)["figures"]}["nitrite"]
                self.assertEqual(grade == name, beyond, (level, times, grade))

    def test_frost(self):
        """Words for water that is frozen already; no row ends in a command alone."""
        flat = " ".join(self.made(FROZEN, "--at", "day 5 12:00").split())
        self.assertIn("In frost: On 2027-06-06 at 12:00 there is ice on the water from the start: keep a hole open", flat)
        self.assertIn("Feed nothing while the water is below 8 degC.", flat)
        for never in ("after 0 min", "0.0 days", "tells why", "Feed again"):
            self.assertNotIn(never, flat)

    def test_amounts_are_for_the_warmest_water(self):
        swing = CROWDED.replace("temperature: 20 degC", "temperature: {mean: 20 degC, daily swing: 2 degC}")
        flat = " ".join(self.made(swing).split())
        shown = re.search(r"Power cut, water (\S+) degC", flat).group(1)  # the row for warmer water
        self.assertIn(f"at {shown} degC, the warmest reckoned with", flat)
        self.assertIn(f"In water warmer than {shown} degC, or with more fish, they have less time.", flat)


class Hours(Card):
    """Scenarios in which one hour is not the worst for all that stands on the card."""

    def of(self, name, *args):
        done = towerloop("endure", ROOT / "scenarios" / f"{name}.yaml", "--card", "--out", self.folder / name, *args,
                         env=without_gnuplot(self.folder))
        self.assertEqual(done.returncode, 0, done.stderr)
        answer = json.loads((self.folder / name / "endure.json").read_text(encoding="utf-8"))
        return done.stdout, " ".join(done.stdout.split()), answer

    def test_each_column_is_its_own_worst(self):
        text, flat, answer = self.of("pump-failure")
        cells = re.split("  +", re.search(r"(?m)^Power cut  +(\S.*\S)$", text).group(1))
        for cell, key in zip(cells, ("minutes_to_caution", "minutes_to_danger", "minutes_to_fish_loss")):
            known = [start[key] for start in answer["starts"] if start[key] is not None]
            self.check_time(cell, min(known), key)
        soonest = min((start for start in answer["starts"]), key=lambda s: s["minutes_to_fish_loss"] or 1e9)
        self.assertNotEqual(soonest["at"], answer["question"]["at"])
        self.assertIn(", death at " + soonest["at"][11:16] + ", the worst of", flat)

    def test_rows_are_tried_at_every_hour(self):
        """What is worst for warmer water is another hour than what is worst for the water as it is."""
        text, flat, answer = self.of("stocking-increase")
        cells = re.split("  +", re.search(r"(?m)^Power cut, water 24 degC  +(\S.*\S)$", text).group(1))
        day = str(int(answer["question"]["at_d"]))
        file, place = ROOT / "scenarios" / "stocking-increase.yaml", self.folder / "warm"
        warm = towerloop("endure", file, "--set", "temperature=24 degC", "--at", f"day {day}", "--no-charts", "--out", place)
        self.assertEqual(warm.returncode, 0, warm.stderr)
        starts = json.loads((place / "endure.json").read_text(encoding="utf-8"))["starts"]
        self.assertEqual(len(starts), 24)
        for cell, key in zip(cells, ("minutes_to_caution", "minutes_to_danger", "minutes_to_fish_loss")):
            self.check_time(cell, min(start[key] for start in starts if start[key] is not None), key)
        self.assertIn("Other rows: the soonest of the same hours. No other hour is tried.", flat)
        rows = self.rows("stocking-increase")
        self.assertLess(float(rows["soonest_warmer_4"]["minutes_to_fish_loss"]),
                        float(rows["fish_100_warmer_4"]["minutes_to_fish_loss"]) - 10)

    def test_fish_that_are_dead_have_no_times(self):
        text, flat, _ = self.of("pump-failure")
        self.assertRegex(text, r"(?m)^Power cut, half more fish  +-  +-  +-$")
        self.assertRegex(flat, r"-: so many fish die before, in the scenario, on 2027-07-22 at \d\d:\d\d\.")
        self.assertNotIn("lost before", flat)

    def test_danger_is_called_so(self):
        _, flat, answer = self.of("tap-water")
        tan, ph = re.search(r"Expect up to (\S+) total ammonia at pH (\S+) \(danger, as before\),", flat).groups()
        grades = json.loads(towerloop("water", "--json", "temperature=20 degC", f"pH={ph}",
                                      f"ammonia={tan} mg/L as N").stdout)["figures"]
        self.assertIn("danger", [figure["grade"] for figure in grades])
        self.assertIn("Change water as below.", flat)
        self.assertNotIn("un-ionised", flat)

    def test_soda_no_calendar_forbids(self):
        """The calendar holds baking soda back for the pH of the afternoon; the card, about an hour before dawn, must
        not allow more."""
        soft = ("--set", "source water.alkalinity=65 mg/L as CaCO3")  # green water: pH is high by day only
        scenario, run = ROOT / "scenarios" / "green-water.yaml", self.folder / "run"
        self.expect(towerloop("run", scenario, *soft, "--no-charts", "--out", run), 0)
        with (run / "calendar.csv").open(encoding="utf-8", newline="") as file:
            held = next(row for row in csv.DictReader(file) if "no baking soda yet" in row["what"])
        with (run / "series.csv").open(encoding="utf-8", newline="") as file:
            hours = [row for row in csv.DictReader(file) if 0 <= float(row["time_d"]) - float(held["time_d"]) <= 1]
        warmest, ph = (max(float(row[column]) for row in hours) for column in ("temperature_degC", "tank_ph"))
        poison = 1 / (1 + 10 ** (0.09018 + 2729.92 / (warmest + 273.15) - ph))  # Emerson et al. 1975
        _, flat, _ = self.of("green-water", *soft)
        most = re.search(r"No baking soda while ammonia is over (\S+) mg/L as N, even if a calendar allows more\.", flat)
        self.assertLess(float(most.group(1)), 0.02 / poison)

    def test_frost_does_not_stand_for_summer(self):
        """Ice is told with its date; the water of the rows is that of the warmest day, and so is the film."""
        text, flat, answer = self.of("winter-tower")
        warmest = max(start["temperature_degC"] for start in answer["starts"])
        row = float(re.search(r"(?m)^Power cut, water (\S+) degC", text).group(1))
        self.assertGreater(row, warmest + 3)
        self.assertRegex(flat, r"In frost: On 20\d\d-\d\d-\d\d at \d\d:00 there is ice on the water from the start: keep a hole "
                               r"open, with warm water, never with blows\.\*")
        self.assertIn("Feed nothing while the water is below 8 degC. Feed again", flat)
        self.assertNotRegex(flat, r"on day \d")
        self.check_film(flat, answer)


class Form(Card):
    def test_page_and_text_say_the_same(self):
        text = self.made()
        self.assertEqual(text, (self.folder / "study" / "card.txt").read_text(encoding="utf-8"))
        self.assertTrue(all(len(line) <= 80 and line == line.rstrip() for line in text.split("\n")), text)
        self.assertNotRegex(text.lower(), r"\bnan\b|\binf\b|\x1b")
        flat = " ".join(text.split())
        page = Page(self.page())
        self.assertEqual(page.open, [])
        self.assertGreater(len(page.texts), 60)
        for tag, shown in page.texts:
            if tag not in ("title", "h1"):
                self.assertIn(shown.rstrip(":"), flat)
        for words in ["Mains beside water kills. Switch off at the board first", "It can topple", "combustion generator",
                      "licensed electrician, local codes", "ask a veterinarian", "Veterinarian", "Neighbour", "Electrician"]:
            self.assertIn(words, flat)

    def test_limits_of_ones_own_are_named(self):
        own = "Danger and caution here are limits of the scenario's own (values changed: 2)."
        self.assertNotIn("limits of the scenario's own", self.made())
        self.assertIn(own, " ".join(self.made(CROWDED + "limits: {nitrite: {caution: 1 mg/L as N, danger: 4 mg/L as N}}\n",
                                              out="own").split()))

    def test_large_numbers_are_written_out(self):
        text = self.made(SMALL.replace("count: 12", "count: 600").replace("0.8 %/d", "2 %/d"))
        self.assertRegex(" ".join(text.split()), r"Expect up to \d{3} total ammonia")
        self.assertNotRegex(text, r"\de[+-]\d")

    def test_page_fetches_and_runs_nothing(self):
        self.made(EVIL)
        text = self.page()
        page = Page(text)
        self.assertEqual(page.active, [])
        self.assertIn("default-src 'none'", text.replace("&#39;", "'"))
        self.assertIn("&lt;script&gt;alert(1)", text)
        self.assertNotIn("url(", text)

    def test_us_units(self):
        flat = " ".join(self.made(CROWDED, "--units", "us").split())
        self.assertRegex(flat, r"Tank 1590 gal, .* 66\.1 lb of fish")
        self.assertRegex(flat, r"New tap water: \S+ oz, \S+ g, for each 100 gal")
        self.assertNotRegex(flat, r" m3| kg\b| degC")

    def test_one_aerator_and_no_aerator(self):
        text = self.made(CROWDED.replace("aerator: {oxygen transfer: 6 g/h}\n", ""))
        self.assertRegex(text, r"(?m)^Power cut or pump dead  ")
        self.assertNotRegex(text, r"(?m)^(Pump|Aerator) dead")
        asked = self.made(CROWDED, "--fails", "aerator", out="asked")
        self.assertRegex(asked, r"(?m)^Aerator dead, half more fish  ")
        self.assertNotIn("Keep the media moist", asked)

    def test_only_where_asked_for(self):
        file = self.write(CROWDED)
        words = ["endure", file, "--out", self.folder / "study"]
        env = without_gnuplot(self.folder)
        self.assertEqual(towerloop(*words, env=env).returncode, 0)
        self.assertFalse((self.folder / "study" / "card.html").exists())
        before = json.loads((self.folder / "study" / "endure.json").read_text(encoding="utf-8"))
        done = towerloop(*words, "--card", env=env)  # only the rows of the card are run
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("Going on: 31 of 36 cases are there already.", done.stderr)
        after = json.loads((self.folder / "study" / "endure.json").read_text(encoding="utf-8"))
        self.assertEqual([case["case"] for case in after["cases"][30:]],
                         [f"soonest_{row}" for row in ("power", "pump", "aerator", "warmer_4", "fish_150")])
        after["cases"] = after["cases"][:30]
        self.assertEqual(before, after)
        again = towerloop(*words, "--card", "--force", env=env)  # a card is ours to replace
        self.assertEqual((again.returncode, again.stdout), (0, done.stdout), again.stderr)
        self.assertEqual(towerloop("run", file, "--card", env=env).returncode, 2)


class Paper(Card):
    @classmethod
    def setUpClass(cls):
        if not browser.program():
            print("\n*** SKIPPED: no Chromium on this machine, so the card was NOT printed. ***", file=sys.stderr)
            raise unittest.SkipTest("no chromium")
        cls.browser = browser.Browser()

    @classmethod
    def tearDownClass(cls):
        cls.browser.close()

    def test_one_sheet(self):
        for text, args in [(CROWDED, ()), (EVIL, ("--units", "us")), (TAP.replace("Small loop", "Pond " * 30), ()),
                           (FROZEN.replace("Small loop", "Pond " * 30), ("--at", "day 5 12:00", "--units", "us"))]:
            self.made(text, *args, out="paper")
            self.browser.open(self.folder / "paper" / "card.html", width=748)  # Letter between its margins
            self.assertEqual(self.browser.run("document.documentElement.scrollWidth"), 748, "printed smaller to fit")
            for width, height in ((8.27, 11.69), (8.5, 11)):
                pages = re.findall(rb"/Type\s*/Page\b", self.browser.pdf(width, height))
                self.assertEqual(len(pages), 1)
            self.assertEqual(self.browser.console, [])
            subprocess.run(["rm", "-r", self.folder / "paper"], check=True)

    def test_narrow_screen(self):
        self.made()
        self.browser.open(self.folder / "study" / "card.html", width=320)
        self.assertEqual(self.browser.run("document.documentElement.scrollWidth"), 320)
        colours = self.browser.run("[...new Set([...document.querySelectorAll('*')].map(e => getComputedStyle(e).color))]")
        self.assertEqual(colours, ["rgb(0, 0, 0)"])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
