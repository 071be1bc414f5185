"""End-to-end tests of `compare`: variants side by side, the files it leaves, going on, refusals.

usage: compare_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...

Python's standard library only.
"""

import csv
import json
import re
import shutil
import signal
import subprocess
import sys
import time
import unicodedata
import unittest
import xml.etree.ElementTree

sys.dont_write_bytecode = True
from run_e2e import (PROGRAM, SCENARIOS, SMALL, EndToEnd, environment, read_summary,  # noqa: E402
                     refuse_constant, towerloop, without_gnuplot)

VARIANTS = SMALL + """\
costs: {currency: EUR, electricity: 0.30 per kWh, pump: 40 W, water: 4 per m3, feed: 5 per kg, tray: 10}
variants:
  - name: +12 koi
    set:
      fish[0].count: 24
  - {name: "six, trays", set: {tower.trays: 6}}
"""


class Told(EndToEnd):
    def compare(self, *args, status=0, out="out", env=None):
        process = towerloop("compare", *args, "--out", self.folder / out,
                            env=env or without_gnuplot(self.folder))
        self.expect(process, status)
        return process

    def answer(self, out="out"):
        text = (self.folder / out / "compare.json").read_text(encoding="utf-8")
        return json.loads(text, parse_constant=refuse_constant)

    def rows(self, out="out"):
        return {row["name"]: row for row in self.answer(out)["variants"]}

    @staticmethod
    def limit(row, name):
        return next(limit for limit in row["limits"] if limit["name"] == name)

    def worst(self, row, name):
        return self.limit(row, name)["worst"]

    @staticmethod
    def block(text, heading):
        return text[text.index(heading):].split("\n\n")[0].splitlines()

    def check_lines(self, text):
        for line in text.splitlines():
            self.assertLessEqual(len(line), 80, line)
            self.assertEqual(line, line.rstrip(), "blanks at the end")
        self.assertNotRegex(text.lower(), r"\x1b|\bnan\b|\binf\b")


# What the comment on top of each scenario promises.

def more_fish(test, rows):
    nh3 = {name: test.worst(row, "un-ionised ammonia") for name, row in rows.items()}
    test.assertEqual(list(nh3), ["base", "+20 koi", "+40 koi", "+60 koi", "20 now and 40 in three weeks"])
    test.assertTrue(nh3["base"] < nh3["+20 koi"] < nh3["+40 koi"] < nh3["+60 koi"], nh3)
    test.assertLess(nh3["20 now and 40 in three weeks"], nh3["+60 koi"])
    test.assertEqual([row["fish_kg"] for row in rows.values()], [12, 22, 32, 42, 42])
    test.assertEqual(rows["base"]["verdict"], "within limits")


def pump_failure(test, rows):
    o2 = {name: test.worst(row, "oxygen") for name, row in rows.items()}
    for when in ("at night", "at noon"):
        course = [o2[f"{hours} h {when}"] for hours in (2, 6, 12)]
        test.assertEqual(course, sorted(course, reverse=True))
        test.assertGreater(o2["base"], course[0])
        test.assertEqual(test.limit(rows[f"12 h {when}"], "oxygen")["verdict"], "danger")
    watts = (60 + 25) / 1000
    used = lambda row: row["pump_kWh"] + row["aerator_kWh"]
    test.assertAlmostEqual(used(rows["base"]) - used(rows["6 h at noon"]), 6 * watts)
    # an outage saves money; that makes it no advice, and it is no monthly saving
    answer = test.answer("pump_failure")["cheapest"]
    test.assertIsNone(answer["without danger"])
    test.assertEqual(answer["none because the variants"], "differ in when pump or aerator is off")
    month = lambda row: row["cost_a_month"]
    test.assertAlmostEqual(month(rows["base"]) - month(rows["6 h at noon"]), 6 * watts * 0.30)
    # the highest ammonia, not the one with the worst pH
    noon = rows["12 h at noon"]
    with open(test.folder / "pump_failure" / noon["run"] / "series.csv", encoding="utf-8", newline="") as file:
        drawn = max(float(row["tank_tan_mgN_L"]) for row in csv.DictReader(file))
    highest = noon["total_ammonia_highest_mgN_L"]
    drawn -= 0.5e-5  # the row is rounded to six digits
    test.assertTrue(drawn <= highest < 1.001 * drawn, (drawn, highest))
    test.assertLess(test.worst(noon, "total ammonia, short term"), 0.8 * highest)


def triple_feed(test, rows):
    nh3 = [test.limit(row, "un-ionised ammonia")["hours_caution"] for row in rows.values()]
    test.assertEqual(nh3, sorted(nh3))
    test.assertEqual(nh3[0], 0)
    feed = [row["feed_kg"] for row in rows.values()]
    for kg, days in zip(feed, (0, 1, 7, 30)):
        test.assertAlmostEqual(kg, 12 * (40 * 0.008 + days * 0.016), places=6)


def trays(test, rows):
    nh3 = {name: test.worst(row, "un-ionised ammonia") for name, row in rows.items()}
    test.assertLess(nh3["base"], nh3["8 trays"])
    test.assertLess(nh3["16 trays, 60 koi"], nh3["8 trays, 60 koi"])
    test.assertEqual(rows["8 trays, 60 koi"]["verdict"], "danger")
    test.assertAlmostEqual(rows["base"]["stack_wet_kg"], 2 * rows["8 trays"]["stack_wet_kg"])
    test.assertLess(rows["8 trays"]["cost_to_build"], rows["base"]["cost_to_build"])


def chamber(test, rows):
    nitrite = {name: test.worst(row, "nitrite") for name, row in rows.items()}
    test.assertGreater(nitrite["base"], 10 * nitrite["emptied every 30 days"])
    test.assertGreater(nitrite["next to none"], 10 * nitrite["emptied every 30 days"])
    test.assertLess(nitrite["emptied, solids sink at 4 m/d"], 0.1 * nitrite["base"])
    test.assertLess(nitrite["emptied, three times the surface"], nitrite["emptied every 30 days"])
    # 24 times 800 L
    test.assertAlmostEqual(rows["emptied every 30 days"]["water_m3"] - rows["base"]["water_m3"], 24 * 0.8)


def flow(test, rows):
    tan = {name: test.worst(row, "total ammonia, short term") for name, row in rows.items()}
    test.assertEqual(sorted(tan, key=tan.get), ["base", "600 gal/h", "a third of 1200", "a third of 600"])
    test.assertAlmostEqual(rows["600 gal/h"]["pump_kWh"], rows["base"]["pump_kWh"] / 2)


def seeded(test, rows):
    ready = [row["filter_ready_day"] for row in rows.values()]
    test.assertEqual(ready, sorted(ready, reverse=True))
    test.assertTrue(ready[0] > 2 * ready[1] > 20 and ready[-1] == 0, ready)
    no2 = [test.worst(row, "nitrite") for row in rows.values()]
    test.assertEqual(no2, sorted(no2, reverse=True))


def quarantine(test, rows):
    media, base, water, both, _ = rows.values()
    for name in ("un-ionised ammonia", "nitrite"):
        test.assertLess(test.worst(media, name), test.worst(base, name))
        test.assertLess(test.worst(both, name), min(test.worst(media, name), test.worst(water, name)))
    test.assertEqual(both["verdict"], "caution")
    test.assertAlmostEqual(water["water_m3"], 0.5 * 24 * 1.008)
    # nobody is judged once the fish have left, whatever the nitrite does then
    for row in rows.values():
        test.assertAlmostEqual(row["hours_without_fish"], 3 * 24, delta=0.1)
    with open(test.folder / "quarantine" / base["run"] / "series.csv", encoding="utf-8", newline="") as file:
        test.assertGreater(max(float(row["tank_no2_mgN_L"]) for row in csv.DictReader(file)),
                           base["nitrite_highest_mgN_L"] + 0.5)


def one_or_two_pumps(test, rows):
    base, two, good, both = rows.values()
    o2 = [test.worst(row, "oxygen") for row in (base, two, good, both)]
    test.assertTrue(o2[1] > 6 > 3 > o2[0] and o2[0] == o2[3], o2)
    test.assertTrue(o2[2] > 5, o2)
    test.assertEqual(base["verdict"], "danger")
    for row in (two, good, both):
        test.assertAlmostEqual(row["pump_m3_h"], base["pump_m3_h"], places=9)
        test.assertAlmostEqual(row["pump_head_m"], base["pump_head_m"], places=9)
    test.assertGreater(base["pump_head_m"], base["pump_lift_m"] + 0.3)
    test.assertAlmostEqual(two["pump_kWh"] - base["pump_kWh"], 12 * 0.045, places=9)


def restart_in_spring(test, rows):
    """A film that fell dry is gone in a week; one that is kept wet lasts, and spring shows it."""
    base, running, early, half = rows.values()
    nh3 = lambda row: test.worst(row, "un-ionised ammonia")
    test.assertTrue(nh3(base) > nh3(early) > nh3(half) > 2 * nh3(running), [nh3(row) for row in rows.values()])
    test.assertEqual((base["verdict"], running["verdict"]), ("danger", "caution"))

    def film(name, day):  # of the ammonia oxidisers, as the guide's table has it
        with open(test.folder / "restart_in_spring" / "runs" / name / "series.csv", newline="") as file:
            row = next(row for row in csv.DictReader(file) if row["time_iso"] == day + "T09:00:00")
        return sum(float(row[f"tray{tray:02}_aob_gCOD_m2"]) for tray in range(1, 9)) / 8

    days = ("2027-12-01", "2027-12-08", "2028-03-20", "2028-05-01", "2028-06-10")
    dry, wet = ([film(name, day) for day in days] for name in ("base", "left-running"))
    for got, shown in zip(dry + wet, (0.19, 0, 0, 0, 0.35, 0.19, 0.17, 0.06, 0.19, 0.47)):
        test.assertAlmostEqual(got, shown, delta=0.01 if shown else 0.001)


def media(test, rows):
    base, fine, gravel, clay, cut, rings, saddles, netting = rows.values()
    litres = 12 * 0.0762 * 0.27 * 1000
    dry = {"base": 800, "fine lava rock": 800, "gravel": 1550, "expanded clay": 350, "cut plastic": 140,
           "plastic rings": 73, "ceramic saddles": 720, "plastic netting": 65}
    price = {"base": 0.4, "fine lava rock": 0.5, "gravel": 0.1, "expanded clay": 0.3, "cut plastic": 0,
             "plastic rings": 0.6, "ceramic saddles": 1.5, "plastic netting": 0.4}
    for name, row in rows.items():
        test.assertAlmostEqual(1000 * row["media_m3"], litres, places=6)
        test.assertAlmostEqual(row["media_dry_kg"], litres / 1000 * dry[name], places=6)
        test.assertAlmostEqual(row["cost_to_build"], litres * price[name] + 12 * 12, places=6)
        test.assertGreater(row["stack_wet_kg"], row["media_dry_kg"])
    # the surface that the water wets is what counts; little of it goes with much ammonia
    nh3 = lambda row: test.worst(row, "un-ionised ammonia")
    test.assertEqual(sorted((fine, base, gravel, rings), key=nh3), [fine, base, gravel, rings])
    test.assertLess(nh3(saddles), nh3(base))
    test.assertGreater(nh3(cut), nh3(saddles))  # more surface, but plastic wets badly
    test.assertEqual(netting["verdict"], "caution")
    test.assertEqual([o["what"] for o in netting["outside_published_range"]], ["surface times size of the media"])
    test.assertFalse(any(row["outside_published_range"] for row in rows.values() if row is not netting))


def winter_tower(test, rows):
    """The tower brings the ice sooner and freezes itself; ice on the pond is its surface's own doing."""
    base, off, third, heated, covered = rows.values()
    test.assertEqual(base["water_lowest_degC"], 0)
    heat = lambda name: json.loads((test.folder / "winter_tower" / "runs" / name / "summary.json").read_text())["heat"]
    names = ("off-from-december", "a-third-from-december", "base")
    test.assertEqual(sorted(names, key=lambda name: heat(name)["hours_ice"]), list(names))
    test.assertGreater(heat("base")["hours_ice"], heat("off-from-december")["hours_ice"] + 120)
    test.assertGreater(heat("base")["hours_ice_in_tower"], 800)
    test.assertEqual(heat("off-from-december")["hours_ice_in_tower"], 0)
    # 11 m2 of water, some centimetres
    for row in (base, off, third):
        test.assertTrue(0.02 < row["most_ice_kg"] / 917 / 11 < 0.08)
    test.assertTrue(off["hours_frost_on_tower"] < 0.3 * base["hours_frost_on_tower"])
    test.assertEqual(heated["most_ice_kg"], 0)
    test.assertEqual(covered["most_ice_kg"], 0)
    test.assertLess(covered["heater_kWh"], 0.5 * heated["heater_kWh"])
    test.assertGreater(heated["water_lowest_degC"], 1)
    test.assertTrue(100 < heated["heater_kWh"] < 243 * 24)
    test.assertAlmostEqual(heated["cost_whole_run"] - off["cost_whole_run"],
                           0.30 * heated["heater_kWh"] + 4 * (heated["water_m3"] - off["water_m3"]), delta=0.01)
    # the run ends in May; what a heater takes a month is what January takes
    test.assertGreater(heated["cost_a_month"] - off["cost_a_month"], 1.5 * 0.30 * heated["heater_kWh"] * 30 / 243)
    # what has dried out has to grow again when spring comes
    nh3 = lambda row: test.worst(row, "un-ionised ammonia")
    test.assertGreater(nh3(off), 1.5 * nh3(base))


def full_year_outdoors(test, rows):
    base, shade, half = rows.values()
    test.assertGreater(base["water_highest_degC"], shade["water_highest_degC"] + 0.5)
    test.assertGreater(half["water_highest_degC"], base["water_highest_degC"])
    test.assertLess(shade["evaporated_m3"], base["evaporated_m3"])
    # the net hides the cold sky, too
    test.assertLess(shade["most_ice_kg"], base["most_ice_kg"])
    test.assertGreater(shade["water_lowest_degC"], base["water_lowest_degC"])


def open_air_or_submerged(test, rows):
    """The same rock: under water no air, more caught, film without oxygen, foul when it stands."""
    air, water = rows.values()
    test.assertGreater(air["least_tray_oxygen_mg_L"], 6)
    test.assertLess(water["least_tray_oxygen_mg_L"], 0.5)
    test.assertLess(air["most_voids_filled"], 0.1)
    test.assertGreater(water["most_voids_filled"], 5 * air["most_voids_filled"])
    test.assertLess(air["most_film_without_oxygen"], 0.1)
    test.assertGreater(water["most_film_without_oxygen"], 0.5)
    test.assertEqual([air["hydrogen_sulfide_can_form"], water["hydrogen_sulfide_can_form"]], [0, 1])
    test.assertLess(test.worst(water, "oxygen"), test.worst(air, "oxygen") - 2)
    gas = {}
    for row in (air, water):
        summary = json.loads((test.folder / "open_air_or_submerged" / row["run"] / "summary.json").read_text())
        gas[row["name"]] = summary["ledger"]["nitrogen"]["out"]["nitrogen_gas"]
    test.assertGreater(gas["under water"], 1.3 * gas["base"])


def medicine_shock(test, rows):
    base, fed, large = rows.values()
    test.assertGreater(test.worst(fed, "un-ionised ammonia"), 1.1 * test.worst(base, "un-ionised ammonia"))
    test.assertGreater(test.worst(fed, "nitrite"), 1.3 * test.worst(base, "nitrite"))
    test.assertLess(test.worst(large, "oxygen"), test.worst(base, "oxygen") - 1.5)


def dead_fish(test, rows):
    base, same_day, alive = rows.values()
    nh3 = lambda row: test.worst(row, "un-ionised ammonia")
    test.assertEqual(sorted((base, same_day, alive), key=nh3), [alive, same_day, base])
    test.assertGreater(nh3(base), 4 * nh3(alive))


def power_cut_in_summer(test, rows):
    sun, shade, wet = rows.values()
    test.assertGreater(test.worst(sun, "nitrite"), test.worst(shade, "nitrite"))
    test.assertGreater(test.worst(shade, "nitrite"), test.worst(wet, "nitrite"))
    test.assertGreater(test.worst(shade, "oxygen"), test.worst(sun, "oxygen"))
    moist = lambda name: json.loads((test.folder / "power_cut_in_summer" / "runs" / name / "summary.json")
                                    .read_text())["tower_without_water"]["media_moist_h"]
    test.assertTrue(1.8 * moist("base") < moist("in-the-shade") < 12)
    test.assertEqual(moist("media-kept-wet"), 12)


class Stories(Told):
    def test_each_scenario_tells_its_story(self):
        files = sorted([*SCENARIOS.glob("compare-*.yaml"), SCENARIOS / "winter-tower.yaml",
                        SCENARIOS / "restart-in-spring.yaml", SCENARIOS / "medicine-shock.yaml",
                        SCENARIOS / "dead-fish.yaml", SCENARIOS / "power-cut-in-summer.yaml",
                        SCENARIOS / "open-air-or-submerged.yaml",
                        SCENARIOS / "full-year-outdoors.yaml"])
        self.assertEqual(len(files), 17)
        for file in files:
            with self.subTest(file.name):
                name = file.stem.removeprefix("compare-").replace("-", "_")
                process = self.compare(file, out=name)
                self.check_lines(process.stdout)
                globals()[name](self, self.rows(name))


class Answer(Told):
    def test_files_and_table(self):
        process = self.compare(self.write(VARIANTS))
        self.check_lines(process.stdout)
        rows = self.rows()
        self.assertEqual(list(rows), ["base", "+12 koi", "six, trays"])
        left = {str(p.relative_to(self.folder / "out")) for p in (self.folder / "out").rglob("*") if p.is_file()}
        runs = {"base", "12-koi", "six-trays"}
        self.assertEqual(left, {"study.json", "compare.csv", "compare.json", "inputs/small.yaml"} |
                         {f"runs/{run}/{file}" for run in runs
                          for file in ("series.csv", "summary.json", "scenario.yaml",
                                       "calendar.csv", "calendar.ics")})
        self.assertEqual((self.folder / "out/inputs/small.yaml").read_text(), VARIANTS)
        with open(self.folder / "out/compare.csv", encoding="utf-8", newline="") as file:
            table = {row["variant"].removeprefix("'"): row for row in csv.DictReader(file)}
        for name, row in rows.items():
            summary = read_summary(self.folder / "out" / row["run"])
            self.assertEqual(row["verdict"], summary["verdict"])
            self.assertIn(name, process.stdout)
            for limit, told in zip(summary["limits"], row["limits"]):
                self.assertEqual({key: limit[key] for key in told}, told)
            self.assertEqual(table[name]["verdict"], row["verdict"])
            self.assertAlmostEqual(float(table[name]["o2_mg_L_worst"]), self.worst(row, "oxygen"), places=6)
            self.assertAlmostEqual(float(table[name]["cost_whole_run"]), row["cost_whole_run"], places=5)

    def test_columns_stand_below_each_other_whatever_the_script(self):
        text = VARIANTS + "  - {name: \u9be9\u3068\u3059\u305a\u3081, set: {tower.trays: 7}}\n"
        process = self.compare(self.write(text))
        width = {"W": 2, "F": 2}
        columns = [sum(width.get(unicodedata.east_asian_width(c), 1) for c in line[:line.index("  ")]) +
                   len(line[line.index("  "):]) for line in process.stdout.splitlines()
                   if re.match(r"(base|\u9be9)\S* +(within|caution|danger)", line)]
        self.assertEqual(len(columns), 2, process.stdout)
        self.assertEqual(columns[0], columns[1], process.stdout)

    def test_bill_by_hand(self):
        self.compare(self.write(VARIANTS))
        row = self.rows()["base"]
        running = 3 * 24 * 0.040 * 0.30 + 3 * 0.1 * 6 * 4 + row["feed_kg"] * 5
        self.assertAlmostEqual(row["feed_kg"], 3 * 12 * 0.5 * 0.008)
        self.assertAlmostEqual(row["cost_to_build"], 80)
        self.assertAlmostEqual(row["cost_a_month"], running * 10)  # 3 days without events drawn out to 30
        self.assertAlmostEqual(row["cost_whole_run"], 80 + running)

    def test_a_run_is_that_of_run(self):
        scenario = self.write(VARIANTS)
        self.compare(scenario)
        process = towerloop("run", scenario, "--set", "fish[0].count=24", "--out", self.folder / "alone",
                            env=without_gnuplot(self.folder))
        self.expect(process, 0)
        for file in ("series.csv", "scenario.yaml"):
            self.assertEqual((self.folder / "alone" / file).read_bytes(),
                             (self.folder / "out/runs/12-koi" / file).read_bytes(), file)
        process = towerloop("run", self.folder / "out/runs/12-koi/scenario.yaml", "--out", self.folder / "again",
                            env=without_gnuplot(self.folder))
        self.expect(process, 0)
        self.assertEqual((self.folder / "again/series.csv").read_bytes(),
                         (self.folder / "alone/series.csv").read_bytes())

    def test_the_cheapest_within_limits_is_named(self):
        # limits so wide that nothing but ammonia counts, and that between the variants
        wide = VARIANTS + "limits: {pH: {caution high: 9}, pH swing: {caution: 2, danger: 3}, " \
                          "nitrite: {caution: 2 mg/L as N, danger: 3 mg/L as N}, " \
                          "ammonia: {caution: LIMIT mg/L as N, danger: 1 mg/L as N}}\n"
        def with_limit(limit):
            text = wide.replace("LIMIT", str(limit))
            # as sentences: a line ends where the page does
            return " ".join(self.compare(self.write(text), "--force").stdout.partition("\n\n")[0].split())

        with_limit(0.5)
        nh3 = {name: self.worst(row, "un-ionised ammonia") for name, row in self.rows().items()}
        answer = with_limit(0.5)
        # all three take the limits of the scenario, which are not the usual ones
        self.assertRegex(answer, r"^Within limits with default parameters: base; \+12 koi; six, trays\. By limits of their own: "
                                 r"base; \+12 koi; six, trays\. A run of 3 d is too short to tell .*"
                                 r"grows over weeks\. Cheapest of these: six, trays, "
                                 r"\d+\.\d\d EUR, built and run for 3 days\.")
        self.assertLess(nh3["base"], nh3["six, trays"])
        answer = with_limit((nh3["base"] + nh3["six, trays"]) / 2)
        self.assertRegex(answer, r"\. Cheapest of these: base, ")
        self.assertEqual({row["own_limits"] for row in self.rows().values()}, {True})
        self.assertEqual(self.answer()["cheapest"]["within limits"], "base")
        self.assertEqual(self.answer()["cheapest"]["without danger"], "six, trays")
        answer = with_limit(0.0001)
        self.assertTrue(answer.startswith("None stays within limits. Caution at most with default parameters: "), answer)
        self.assertIsNone(self.answer()["cheapest"]["within limits"])
        process = self.compare(self.write(SMALL), "--vary", "tower.trays=4,5", out="no prices")
        self.assertIn("No prices are given (costs:)", process.stdout)

    def test_values_are_crossed(self):
        scenario = self.write(SMALL)
        self.compare(scenario, "--vary", "fish[0].count=4, 12", "--vary", "pump.flow=400 gal/h,800 gal/h",
                     "--set", "length=1 d")
        rows = self.rows()
        self.assertEqual(list(rows), ["count 4, flow 400 gal/h", "count 12, flow 400 gal/h",
                                      "count 4, flow 800 gal/h", "count 12, flow 800 gal/h"])
        self.assertEqual([row["fish_kg"] for row in rows.values()], [2, 6, 2, 6])
        self.assertEqual({row["length_d"] for row in rows.values()}, {1})
        self.compare(self.write(VARIANTS), "--vary", "pump.flow=400 gal/h,800 gal/h", out="both")
        self.assertEqual(len(self.rows("both")), 6)
        self.assertIn("six, trays, flow 800 gal/h", self.rows("both"))

    def test_the_highest_is_what_the_table_says(self):
        process = self.compare(SCENARIOS / "compare-pump-failure.yaml")
        for row in self.rows().values():
            line = next(line for line in self.block(process.stdout, "Worst values") if line.startswith(row["name"]))
            tan, no2 = line[len(row["name"]):].split()[1:3]
            self.assertAlmostEqual(float(tan), row["total_ammonia_highest_mgN_L"], delta=0.006 * float(tan))
            self.assertAlmostEqual(float(no2), row["nitrite_highest_mgN_L"], delta=0.006 * float(no2))

    def test_why_it_is_a_caution(self):
        # little water on a wide tower: everything is within its limits, but nobody has measured that
        wide = "limits: {pH: {caution high: 9}, pH swing: {caution: 2, danger: 3}, " \
               "nitrite: {caution: 2 mg/L as N, danger: 3 mg/L as N}, " \
               "ammonia: {caution: 0.5 mg/L as N, danger: 1 mg/L as N}}\n"
        process = self.compare(self.write(SMALL + wide), "--vary", "pump.flow=400 gal/h,40 gal/h")
        row = self.rows()["flow 40 gal/h"]
        self.assertEqual(row["verdict"], "caution: outside published range")
        self.assertEqual([outside["what"] for outside in row["outside_published_range"]], ["hydraulic load"])
        self.assertEqual(self.rows()["flow 400 gal/h"]["outside_published_range"], [])
        text = " ".join(process.stdout.split())
        self.assertRegex(text, r"Caution, outside published range: hydraulic load, 1\.25 to 40 m/h "
                               r"\(wetting of the tower\): [\d.]+ \(flow 40 gal/h\)\.")
        with open(self.folder / "out/compare.csv", encoding="utf-8", newline="") as file:
            table = {row["variant"]: row for row in csv.DictReader(file)}
        self.assertEqual(table["flow 40 gal/h"]["outside_published_range"], "hydraulic load")
        self.assertEqual(table["flow 400 gal/h"]["outside_published_range"], "")

    def test_hours_without_fish_are_told(self):
        leaving = "events: [{at: day 2, remove fish: {name: koi, count: 12}}]\n"
        text = " ".join(self.compare(self.write(SMALL + leaving), "--vary", "tower.trays=6,8").stdout.split())
        self.assertIn("24 h without fish in each of them are not judged and not in these tables", text)
        earlier = "variants: [{name: early, set: {'events[0].at': day 1}}]\n"
        text = " ".join(self.compare(self.write(SMALL + leaving + earlier), out="two").stdout.split())
        self.assertIn("24 h (base); 48 h (early) without fish: not judged", text)
        self.assertNotIn("without fish", self.compare(self.write(VARIANTS), out="all").stdout)

    def test_what_a_run_cannot_tell_is_told_of_it_here(self):
        long = SMALL.replace("length: 3 d", "length: 15 d")
        scenario = self.write(long + "variants:\n  - {name: short, set: {length: 2 d}}\n  - {name: brief, set: {length: 2 d, "
                                     "tower.trays: 7}}\n  - {name: much, set: {tower.biofilm: new, tank.volume: 200 m3}}\n")
        process = self.compare(scenario, "--report")
        self.check_lines(process.stdout)
        text = " ".join(process.stdout.partition("\n\n")[0].split())
        short = "A run of 2 d is too short to tell how ammonia, nitrite and nitrate end: they build up over days, and " \
                "the film grows over weeks."
        unready = "The new filter is not shown to be ready by the end: ammonia and nitrite can still rise after it. Make the " \
                  "run longer: a new filter takes weeks."
        self.assertEqual({name: row["verdict_cannot_tell"] for name, row in self.rows().items()},
                         {"base": None, "short": short, "brief": short, "much": unready})
        self.assertEqual(text.count(short), 1)
        self.assertIn(short + " That holds for: short; brief. " + unready + " That holds for: much.", text)
        self.assertIn("Ready -: ammonia and nitrite do not stay within the limits of `filter ready` to the end, of a new tower "
                      "or a mature one; or a new one was not shown to keep them there.", " ".join(process.stdout.split()))
        page = (self.folder / "out" / "report.html").read_text(encoding="utf-8")
        self.assertRegex(page, re.escape(short) + r" That holds for: <bdi>short</bdi>; <bdi>brief</bdi>\.")
        self.assertIn(unready, page)
        self.assertNotIn("By limits of their own", page)
        self.compare(scenario, "--force", "--report", "--set", "limits.nitrite.caution=0.3 mg/L as N")
        page = (self.folder / "out" / "report.html").read_text(encoding="utf-8")
        self.assertIn("By limits of their own: <bdi>base</bdi>", page)

    def test_unlike_things_have_no_cheapest(self):
        one = self.write(VARIANTS.split("variants:")[0], "one.yaml")
        for change, why in [(("length: 3 d", "length: 4 d"), "run for different times"),
                            (("currency: EUR", "currency: USD"), "have prices in different currencies"),
                            (("water: 4 per m3, ", ""), "do not have a price for the same things")]:
            two = self.write(one.read_text().replace(*change), "two.yaml")
            text = self.compare(one, two, "--force").stdout
            self.assertNotIn("Cheapest", text)
            self.assertIn(f"the variants {why}.", " ".join(text.split()))
            self.assertEqual(self.answer()["cheapest"]["none because the variants"], why)

    def test_the_same_is_run_once(self):
        scenario = self.write(SMALL)
        process = self.compare(scenario, scenario, "--vary", "tower.trays=5,6,5")
        self.assertEqual(len(self.rows()), 2)
        self.assertEqual([line for line in process.stderr.splitlines() if "twice" in line],
                         [f"{scenario} is given twice; it is run once."])
        self.assertIn("--vary: tower.trays has the same value more than once; it is run once.", process.stderr)
        process = self.compare(self.write(VARIANTS + "  - {name: same, set: {tower.trays: 6}}\n"), out="variants")
        self.assertEqual(list(self.rows("variants")), ["base", "+12 koi", "six, trays"])
        self.assertIn('"same" is the same as "six, trays"; it is run once.', process.stderr)

    def test_several_files(self):
        one = self.write(SMALL, "one.yaml")
        two = self.write(SMALL.replace("trays: 8", "trays: 4"), "two.yaml")
        process = self.compare(one, two)
        self.assertEqual(list(self.rows()), ["one", "two"])
        self.assertIn("one", process.stdout)
        self.assertEqual({p.name for p in (self.folder / "out/inputs").iterdir()}, {"one.yaml", "two.yaml"})

    def test_a_variant_as_it_is_stands_for_the_base(self):
        text = VARIANTS + "  - {name: today}\n"
        self.compare(self.write(text))
        self.assertEqual(list(self.rows()), ["+12 koi", "six, trays", "today"])

    def test_charts(self):
        process = self.compare(self.write(VARIANTS), "--format", "png,svg", env=environment())
        for name in ("compare", "compare_multiples"):
            self.check_png(self.folder / "out/charts" / f"{name}.png")
            for word in ("Small loop", "+12 koi", "nitrite"):
                self.check_svg(self.folder / "out/charts" / f"{name}.svg", word)
        self.assertEqual(len(list((self.folder / "out/charts").iterdir())), 4)
        self.assertIn("Results: ", process.stderr)

    def words_of_chart(self, *args):
        self.compare(*args, "--format", "svg", "--force", env=environment())
        tree = xml.etree.ElementTree.parse(self.folder / "out/charts/compare.svg")
        return " ".join("".join(tree.getroot().itertext()).split())

    def test_rows_far_apart_hide_no_lowest_oxygen(self):
        """What each run knows beyond its rows is drawn over them, told in the note, and stands in the report's table."""
        night = SMALL.replace("every: 1 h", "every: 12 h").replace("count: 12", "count: 40") + """\
events: [{at: day 1 14:00, power: off, for: 5 h}]
variants:
  - {name: base}
  - {name: fewer, set: {"fish[0].count": 30}}
"""
        self.compare(self.write(night), "--format", "svg", "--report", env=environment())
        note = [text for text in self.svg_words() if text.startswith("Rows 12 h apart: between them only the lowest")]
        self.assertEqual(len(note), 1)
        page = (self.folder / "out" / "report.html").read_text(encoding="utf-8")
        for variant in json.loads((self.folder / "out/compare.json").read_text(encoding="utf-8"))["variants"]:
            oxygen = next(limit for limit in variant["limits"] if limit["name"] == "oxygen")
            self.assertLess(oxygen["worst"], 7)
            numbers = page[page.index('id="charts"'):]
            self.assertRegex(numbers, rf">{re.escape(format(oxygen['worst'], '.3g'))}(?: to |<)")

    def svg_words(self):
        root = xml.etree.ElementTree.parse(self.folder / "out/charts/compare.svg").getroot()
        return ["".join(element.itertext()).strip() for element in root.iter("{http://www.w3.org/2000/svg}text")]

    def test_limits_on_the_chart(self):
        scenario = self.write(VARIANTS)
        words = self.words_of_chart(scenario)
        # 20 mg/L of chloride all the time: one danger value of nitrite, a tenth of that
        self.assertIn("danger above 2 (off scale)", words)
        # of total ammonia, with the pH
        self.assertRegex(words, r"limits move with the water, not drawn: caution [\d.]+ to [\d.]+, danger [\d.]+ to [\d.]+")
        self.assertIn("caution above 0.02", words)
        fixed = ("--set", "limits.total ammonia.caution=0.31 mg/L as N",
                 "--set", "limits.total ammonia.danger=0.62 mg/L as N")
        words = self.words_of_chart(scenario, *fixed)
        self.assertIn("caution above 0.31", words)
        self.assertIn("danger above 0.62", words)
        self.assertNotIn("limits move", words)
        salted = VARIANTS + "  - {name: salted, set: {source water.chloride: 40 mg/L}}\n"
        self.assertIn("not drawn: danger 2 to 4", self.words_of_chart(self.write(salted)))
        # with so much nitrite the lower of the two is drawn, at a bit less than half of the scale
        much = "  - {name: nitrite, set: {starting water.nitrite: 4 mg/L as N}}\n"
        self.compare(self.write(salted + much), "--format", "svg", "--force", env=environment())
        place = self.texts("out")
        height = place["oxygen, mg/L"] - place["nitrite, mg/L as N"]
        self.assertIn("limits move with the water, drawn where they are lowest: danger 2 to 4", place)
        share = (place["danger above 2 (lowest)"] - place["nitrite, mg/L as N"]) / height
        self.assertTrue(0.4 < share < 0.6, share)
        other = VARIANTS + "  - {name: other limit, set: {limits.ammonia.caution: 0.03 mg/L as N}}\n"
        words = self.words_of_chart(self.write(other))
        self.assertIn("caution above 0.02: others", words)
        self.assertIn("caution above 0.03: other limit", words)
        self.assertIn("danger above 0.05 ", words + " ")
        self.assertNotIn("danger above 0.05:", words)  # that of all of them

    def texts(self, out):
        """What is written on the chart of all variants: text -> height in px from the top."""
        tree = xml.etree.ElementTree.parse(self.folder / out / "charts/compare.svg")
        svg = "{http://www.w3.org/2000/svg}"
        found = {}
        for group in tree.iter(svg + "g"):
            place = re.match(r"translate\([\d.]+,([\d.]+)\)", group.get("transform", ""))
            for text in group.findall(svg + "text"):
                found["".join(text.itertext()).strip()] = float(place.group(1)) if place else None
        return found

    def test_limits_lie_beside_their_curves(self):
        self.compare(SCENARIOS / "compare-quarantine.yaml", "--format", "svg", env=environment())
        texts = self.texts("out")
        for heading in ("nitrite, mg/L as N", "oxygen, mg/L", "alkalinity, mg/L as CaCO3", "pH"):
            self.assertIn(heading, texts)
        # far up the scale these two limits lie closer than a line of text is high
        self.assertGreater(texts["caution above 0.02"] - texts["danger above 0.05"], 17)
        self.assertTrue(texts["nitrite, mg/L as N"] < texts["danger above 2"] < texts["oxygen, mg/L"], texts)
        self.assertTrue(texts["alkalinity, mg/L as CaCO3"] < texts["caution below 70"] < texts["danger below 40"] < texts["pH"])
        self.assertTrue(texts["pH"] < texts["danger above 9"] < texts["caution above 8.5"] < texts["caution below 7"])

    def test_us_units_and_quiet(self):
        scenario = self.write(VARIANTS)
        process = self.compare(scenario, "--units", "us")
        self.check_lines(process.stdout)
        self.assertIn("fish lb", process.stdout)
        self.assertEqual(self.compare(scenario, "--quiet").stdout, "")

    def test_names_of_any_kind(self):
        text = SMALL + 'variants:\n  - {name: "Gärten \\"am Bach\\"", set: {tower.trays: 6}}\n' \
                       '  - {name: ../../outside, set: {tower.trays: 5}}\n' \
                       '  - {name: BASE, set: {tower.trays: 4}}\n'
        process = self.compare(self.write(text), env=environment())
        self.check_lines(process.stdout)
        self.assertEqual(list(self.rows()), ["base", 'Gärten "am Bach"', "../../outside", "BASE"])
        self.assertEqual({p.name for p in (self.folder / "out/runs").iterdir()},
                         {"base", "g-rten-am-bach", "outside", "base-2"})

    def test_fail_on(self):
        scenario = self.write(SMALL)
        self.compare(scenario, "--vary", "fish[0].count=12,400", "--fail-on", "danger")
        self.compare(scenario, "--vary", "fish[0].count=400,500", "--fail-on", "danger", "--force", status=3)


class Same(Told):
    """The same whatever the threads, and whether or not it was interrupted."""

    def contents(self, out):
        top = self.folder / out
        return {str(p.relative_to(top)): p.read_bytes() for p in top.rglob("*") if p.is_file()}

    def test_threads_change_nothing(self):
        scenario = self.write(VARIANTS)
        vary = ("--vary", "pump.flow=400 gal/h,500 gal/h,600 gal/h,700 gal/h", "--vary", "temperature=18 degC,22 degC")
        self.compare(scenario, *vary, "--threads", "1", out="one")
        self.compare(scenario, *vary, "--threads", "4", out="four")
        one = self.contents("one")
        self.assertEqual(len([name for name in one if name.endswith("series.csv")]), 24)
        self.assertEqual(one, self.contents("four"))

    def test_interrupted_and_gone_on_with(self):
        # reckoned needlessly well, so that it lasts
        text = SMALL.replace("length: 3 d", "length: 60 d").replace("every: 1 h", "every: 1 d")
        scenario = self.write(text)
        args = [scenario, "--vary", "fish[0].count=" + ",".join(map(str, range(4, 34))), "--rtol", "1e-8"]
        process = subprocess.Popen([str(PROGRAM), "compare", *map(str, args), "--out", str(self.folder / "out")],
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                                   env=without_gnuplot(self.folder))
        runs = self.folder / "out/runs"
        finished = lambda: [p for p in runs.glob("*/summary.json") if ".draft-" not in p.parent.name]
        until = time.monotonic() + 60
        while len(finished()) < 2 and time.monotonic() < until and process.poll() is None:
            time.sleep(0.005)
        process.send_signal(signal.SIGINT)
        stdout, stderr = process.communicate(timeout=120)
        self.assertEqual(process.returncode, 130, stderr)
        self.assertEqual(stdout, "")
        kept = len(finished())
        self.assertTrue(2 <= kept < 30, kept)
        self.assertIn(f"interrupted; {kept} of 30 are kept, the same command goes on from there", stderr)
        self.assertFalse((self.folder / "out/compare.json").exists())
        self.assertEqual([p.name for p in runs.iterdir() if ".draft-" in p.name], [])
        before = {p: p.stat().st_mtime_ns for p in finished()}

        process = self.compare(*args)
        self.assertIn(f"{kept} of 30 were run already.", process.stderr)
        for path, when in before.items():
            self.assertEqual(path.stat().st_mtime_ns, when, path)
        self.compare(*args, out="at once")
        self.assertEqual(self.contents("out"), self.contents("at once"))

    def test_only_what_has_changed_is_run_again(self):
        scenario = self.write(VARIANTS)
        self.compare(scenario)
        self.assertIn("3 of 3 were run already.", self.compare(scenario).stderr)
        self.write(VARIANTS.replace("tower.trays: 6", "tower.trays: 5").replace("six,", "five,"))
        self.assertIn("2 of 3 were run already.", self.compare(scenario).stderr)
        self.assertEqual({p.name for p in (self.folder / "out/runs").iterdir()}, {"base", "12-koi", "five-trays"})

    def test_leftovers_of_a_killed_program_are_cleared_away(self):
        scenario = self.write(VARIANTS)
        self.compare(scenario)
        shutil.copytree(self.folder / "out/runs/base", self.folder / "out/runs/base.draft-abcdef")
        self.compare(scenario)
        self.assertEqual({p.name for p in (self.folder / "out/runs").iterdir()}, {"base", "12-koi", "six-trays"})


class Refusals(Told):
    def test_folders(self):
        scenario = self.write(VARIANTS)
        out = self.folder / "out"
        out.mkdir()
        (out / "diary.txt").write_text("mine")
        for force in ([], ["--force"]):
            self.assertIn("is no study of towerloop", self.compare(scenario, *force, status=1).stderr)
        self.assertEqual([p.name for p in out.iterdir()], ["diary.txt"])
        (out / "diary.txt").unlink()
        self.compare(scenario)
        process = self.compare(scenario, "--vary", "pump.flow=400 gal/h,500 gal/h", status=1)
        self.assertIn("answers another question; --force starts anew", process.stderr)
        summary = (out / "runs/base/summary.json").read_text()
        (out / "runs/base/summary.json").write_text(summary[:100])
        self.assertIn("move this one away if it holds earlier results",
                      self.compare(scenario, status=1).stderr)
        shutil.rmtree(out / "runs/base")
        self.assertIn("2 of 3 were run already.", self.compare(scenario).stderr)
        (out / "runs/diary.txt").write_text("mine")
        process = self.compare(scenario, "--force", "--vary", "pump.flow=400 gal/h,500 gal/h", status=1)
        self.assertIn("left alone", process.stderr)
        self.assertTrue((out / "compare.json").exists())
        (out / "runs/diary.txt").unlink()
        for name in ("runs/base/scenario.yaml", "inputs/small.yaml"):
            path = out / name
            whole = path.read_bytes()
            path.write_bytes(whole + b"# mine\n")
            process = self.compare(scenario, "--force", "--vary", "pump.flow=400 gal/h,500 gal/h", status=1)
            self.assertIn(f"{name} was changed after towerloop had written it", process.stderr)
            self.assertEqual(path.read_bytes(), whole + b"# mine\n")
            path.write_bytes(whole)
        copy = out / "inputs/small.yaml"
        process = self.compare(copy, "--force", status=1)
        self.assertIn(f"{copy}, which is to be read, lies in {out}", process.stderr)
        self.assertTrue((out / "compare.json").exists())
        self.compare(scenario, "--force", "--vary", "pump.flow=400 gal/h,500 gal/h")
        self.assertEqual(len(self.rows()), 6)

    def test_faults_name_variant_and_key(self):
        text = SMALL + "variants:\n  - {name: bad pump, set: {pump.flow: 12 kg}}\n" \
                       "  - {name: bad key, set: {tower.treys: 4}}\n"
        process = self.compare(self.write(text), status=2)
        self.assertEqual(process.stdout, "")
        self.assertRegex(process.stderr, r'small\.yaml:17: variant "bad pump": pump\.flow: "12 kg" is a mass')
        self.assertRegex(process.stderr, r'small\.yaml:18: variant "bad key": tower\.treys: unknown key')
        self.assertEqual(len(process.stderr.splitlines()), 2)
        self.assertFalse((self.folder / "out").exists())
        process = towerloop("check", self.folder / "small.yaml")
        self.expect(process, 2)
        self.assertRegex(process.stderr, r'variant "bad pump": pump\.flow: ')

    def test_what_is_varied(self):
        scenario = self.write(SMALL)
        for vary, answer in [("tower.trays", "expected KEY=VALUE,VALUE"),
                             ("=3,4", "expected KEY=VALUE,VALUE"),
                             ("tower.trays=", "no value behind the ="),
                             ("tower.trays=3,,4", "a value is empty"),
                             ("tower.trays=3,", "a value is empty"),
                             ("tower.trays=,3", "a value is empty"),
                             ("tower.trays=3,many", '"many" is not a number'),
                             ("tower.trays=3 m", "expected"),
                             ("fish[7].count=3,4", "the list has no such place"),
                             ("tower.trays=" + ",".join(map(str, range(500))), "more than 400 variants")]:
            with self.subTest(vary[:30]):
                self.assertIn(answer, self.compare(scenario, "--vary", vary, status=2).stderr)
                self.assertFalse((self.folder / "out").exists())
        process = self.compare(scenario, "--vary", "tower.trays=0,8.5,300", "--vary", "fish[0].count=4,-1", status=2)
        self.assertEqual(len(process.stderr.splitlines()), 4, process.stderr)
        for value in ("0", "8.5", "300"):
            self.assertRegex(process.stderr, rf'tower\.trays: "{value}" is ')
        self.assertRegex(process.stderr, r'fish\[0\]\.count: "-1" is ')
        self.assertIn("varied twice", self.compare(scenario, "--vary", "tower.trays=3,4", "--vary",
                                                   "tower.trays=5,6", status=2).stderr)
        self.assertIn("there is only one variant", self.compare(scenario, status=2).stderr)
        self.assertIn("No such file", self.compare(self.folder / "none.yaml", status=2).stderr)
        self.assertIn("--threads", self.compare(scenario, "--threads", "none", status=2).stderr)

    def test_what_a_variant_sets_is_not_set_besides(self):
        scenario = self.write(VARIANTS)
        for option, value in (("--vary", "tower.trays=4,5"), ("--set", "tower.trays=4")):
            process = self.compare(scenario, option, value, status=2)
            self.assertRegex(process.stderr, r'small\.yaml:21: variant "six, trays": tower\.trays: set here and by '
                                             + option)
            self.assertEqual(len(process.stderr.splitlines()), 1)
        process = self.compare(scenario, "--set", "fish=[{name: koi, count: 3, mean mass: 1 kg}]", status=2)
        self.assertIn('variant "+12 koi": fish: set here and by --set', process.stderr)
        self.compare(scenario, "--set", "length=1 d")

    def test_run_ignores_variants(self):
        process = self.run_small(text=VARIANTS)
        self.expect(process, 0)
        self.assertNotIn("variants", (self.folder / "out/scenario.yaml").read_text())


if __name__ == "__main__":
    unittest.main(argv=["compare_e2e", *sys.argv[3:]])
