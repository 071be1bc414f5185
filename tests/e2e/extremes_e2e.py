"""Loops at the ends of what a scenario may say, alone and two at a time: each run completes, its ledgers close, its
answer is whole and finite, and where the water is outside of what the equations were published for, that is said.

usage: extremes_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import itertools
import re
import sys
import unittest

sys.dont_write_bytecode = True
from run_e2e import LEDGER_TOLERANCE, SMALL, EndToEnd, read_summary, towerloop, without_gnuplot  # noqa: E402

EMPTY_FISH = ["fish=[]", "feeding.ration=0 %/d"]
EXTREMES = {
    "no fish": EMPTY_FISH,
    "one tray": ["tower.trays=1", "tower.media depth=0.005 m"],
    "no tower": ["pump.to tower=0 %"],
    "no pump": ["pump.flow=0 m3/h"],
    "no water change": ["water change.trickle=0 %/d"],
    "at 0 degC": ["temperature=0 degC"],
    "at 40 degC": ["temperature=40 degC"],
    "tiny": ["tank={volume: 20 L, surface: 0.1 m2, wetted walls: 0.4 m2}", "fish[0].mean mass=1 g",
             "settling chamber={volume: 1 L, surface: 0.01 m2, wetted walls: 0.05 m2}"],
    "huge": ["tank={volume: 1000000 m3, surface: 1000000 m2, wetted walls: 1000000 m2}"],
    "100 times the fish": ["fish[0].count=1200"],
    "all at the start": [
        "events=[{at: day 0, pump: off, for: 1 h}, {at: day 0, aerator: off, for: 1 h}, {at: day 0, change water: 50 %}, "
        "{at: day 0, dose: {salt: 1 kg}}, {at: day 0, dose: {baking soda: 100 g}}, {at: day 0, ration: 5 %/d, for: 1 d}, "
        "{at: day 0, clean: all trays}, {at: day 0, clean: settling chamber}]"],
    "all at the end": [
        "events=[{at: day 3, change water: 50 %}, {at: day 3, pump: off, for: 1 h}, {at: day 3, clean: all trays}, "
        "{at: day 3, dose: {baking soda: 100 g}}, {at: day 3, change water: 100 %}]"],
    "no aerator": ["aerator.oxygen transfer=0 g/h"],
    "bare water": ["source water={alkalinity: 0 mg/L as CaCO3, pH: 5}"],
    "rich water": ["source water={alkalinity: 1000 mg/L as CaCO3, pH: 9.5, nitrate: 100 mg/L as N, nitrite: 10 mg/L as N, "
                   "ammonia: 50 mg/L as N, chloride: 5000 mg/L}"],
    "gorged": ["feeding.ration=20 %/d"],
    "flushed": ["water change.trickle=1000 %/d"],
    "tall": ["tower.trays=200", "tower.media depth=0.1 m", "tower.plan area=100 m2"],
    "a quarter of an hour": ["length=0.0105 d", "report every=1 min"],
}
YEARS = ["length=1826 d", "report every=1 d"]
# two that say something about the same, and keys of fish that are not there
APART = [{"no fish", "tiny"}, {"no fish", "100 times the fish"}, {"no water change", "flushed"},
         {"all at the start", "all at the end"}, {"one tray", "tall"}, {"bare water", "rich water"}, {"tiny", "huge"},
         {"at 0 degC", "at 40 degC"}, {"all at the end", "a quarter of an hour"}, {"no fish", "gorged"}]


class Extremes(EndToEnd):
    def judged(self, *sets):
        """The summary of a run and its answer, after what holds for each."""
        scenario = self.write(SMALL)
        out = self.folder / "out"
        args = [word for text in sets for word in ("--set", text)]
        process = towerloop("run", scenario, "--out", out, "--force", "--no-charts", "--report", *args,
                            env=without_gnuplot(self.folder))
        self.expect(process, 0)
        for line in process.stdout.splitlines():
            self.assertLessEqual(len(line), 80, line)
        self.assertNotRegex(process.stdout, r"(?i)\b-?(nan|inf)\b")
        self.assertRegex(process.stdout, r"^Verdict: (within limits|caution|danger)")
        summary = read_summary(out)  # refuses what is not finite
        for name in ("nitrogen", "carbon"):
            self.assertLess(abs(summary["ledger"][name]["residual_rel"]), LEDGER_TOLERANCE, name)
        for name, ledger in summary["ledger"].items():
            if isinstance(ledger, dict) and "residual_rel" in ledger:
                self.assertLess(abs(ledger["residual_rel"]), LEDGER_TOLERANCE, name)
        with open(out / "series.csv", encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        self.assertGreater(len(rows), 2)
        for row in rows:
            self.assertEqual(len(row), len(rows[0]))
            self.assertNotRegex(",".join(row), r"(?i)nan|inf")
        return summary, " ".join(process.stdout.split())


class Alone(Extremes):
    def test_each(self):
        for name, sets in EXTREMES.items():
            with self.subTest(extreme=name):
                self.judged(*sets)

    def test_no_fish(self):
        summary, said = self.judged(*EMPTY_FISH)
        self.assertIn("There are no fish in this run: it cannot tell how the water goes with fish in it.", said)
        self.assertNotEqual(summary["verdict"], "danger")

    def test_fish_that_are_none(self):
        for name, sets in {"count": ["fish[0].count=0"],
                           "gone at once": ["events=[{at: day 0, remove fish: {name: koi, count: 12}}]"],
                           "none come": ["fish=[]", "events=[{at: day 1, add fish: {name: koi, count: 0, mean mass: 1 kg}}]"],
                           }.items():
            with self.subTest(fish=name):
                summary, said = self.judged(*sets)
                self.assertIn("There are no fish in this run", said)
                self.assertNotIn("A time with fish", said)
                self.assertEqual(summary["hours_without_fish"], 0)  # judged as if there were some

    def test_bare_media_in_much_water(self):
        much = ["tower.biofilm=new", "length=20 d", "tank={volume: 200 m3, surface: 60 m2, wetted walls: 120 m2}",
                "temperature=15 degC"]
        summary, said = self.judged(*much)
        self.assertIsNone(summary["filter_ready_day"])
        self.assertEqual(summary["filter_work"]["water_low_from_day"], 0)
        self.assertLess(summary["filter_work"]["oxidised_gN"], 0.5 * summary["filter_work"]["came_in_gN"])
        self.assertIn("Ammonia is low by much or new water, not by the filter", said)
        self.assertIn("it is not shown to be ready.", said)
        self.assertNotIn("The filter is ready", said)
        self.assertIn("The new filter is not shown to be ready by the end", summary["verdict_cannot_tell"])
        page = (self.folder / "out" / "report.html").read_text()
        self.assertIn("not shown to be ready", page)
        with open(self.folder / "out" / "calendar.csv", encoding="utf-8", newline="") as file:
            tests = [row for row in csv.reader(file) if "every day while a filter is new" in ",".join(row)]
        self.assertEqual(len(tests), 20)

    def test_one_tray(self):
        self.assertIn("Tower: 1 tray of lava rock", self.judged(*EXTREMES["one tray"])[1])

    def test_no_tower_and_no_pump(self):
        for name in ("no tower", "no pump"):
            self.assertIn("Tower without water once, 72 h", self.judged(*EXTREMES[name])[1])
        self.assertIn("fish", self.judged("pump.flow=0 m3/h", "aerator.oxygen transfer=0 g/h", "fish[0].count=120")[1])

    def test_outside_of_what_was_published(self):
        for degrees in (0, 40):
            summary, said = self.judged(f"temperature={degrees} degC")
            self.assertIn(f"Outside published range: temperature {degrees} degC", said)
            self.assertIn(("temperature", degrees), [(row["what"], row["value"]) for row in summary["ranges"]])
            self.assertEqual(summary["verdict"], "danger")
        self.assertNotIn("Outside published range", self.judged()[1])

    def test_fish_that_are_lost(self):
        summary, said = self.judged("fish[0].count=1200")
        self.assertEqual(summary["verdict"], "danger")
        self.assertIn("oxygen under 0.7 mg/L, carp are lost; the run's promise ends here", said)
        self.assertRegex(said, r"Verdict: danger\. Beyond danger: un-ionised ammonia, .*oxygen")

    def test_a_tank_too_large_for_its_tower(self):
        """Nothing goes wrong in three days, and they are said to be too few to tell."""
        self.assertIn("A run of 3 d is too short to tell", self.judged(*EXTREMES["huge"])[1])

    def test_refused_beyond_the_ends(self):
        for text in ("temperature=-0.001 degC", "temperature=40.001 degC", "tower.trays=0", "tower.trays=201", "tower.trays=1.5",
                     "length=3661 d", "length=0 d", "tank.volume=0 L", "fish[0].count=-1", "pump.to tower=101 %",
                     "fish[0].mean mass=0 g", "tank.volume=1e7 m3", "pump.flow=-1 m3/h", "start=10000-01-01"):
            with self.subTest(set=text):
                process = towerloop("check", self.write(SMALL), "--set", text)
                self.expect(process, 2)
                self.assertRegex(process.stderr, rf"--set: {re.escape(text.split('=')[0])}: .*; expected ")


class Years(Extremes):
    def test_five_years(self):
        summary, said = self.judged(*YEARS)
        self.assertIn("1826 days", said)
        self.judged(*YEARS, *EMPTY_FISH)
        self.judged(*YEARS, "fish[0].count=1200")
        self.judged(*YEARS, "pump.flow=0 m3/h")


class Pairs(Extremes):
    def test_two_at_a_time(self):
        tried = 0
        for one, other in itertools.combinations(EXTREMES, 2):
            if {one, other} in APART:
                continue
            with self.subTest(extremes=(one, other)):
                self.judged(*EXTREMES[one], *EXTREMES[other])
            tried += 1
        self.assertGreater(tried, 150)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
