"""End-to-end tests of `towerloop fit`: what readings tell about a loop.

usage: fit_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import json
import re
import sys
import unittest
import xml.etree.ElementTree

sys.dont_write_bytecode = True
from run_e2e import ESCAPE, PROGRAM, ROOT, SMALL, EndToEnd, environment, towerloop, without_gnuplot  # noqa: E402

TRUE_N_FEED = 0.075
RESULTS = ["fit.json", "fitted-spread.yaml", "fitted.yaml", "forecast.csv", "residuals.csv"]
HEADER = "time_iso,place,quantity,value,unit,error\n"


class Fit(EndToEnd):
    def setUp(self):
        super().setUp()
        self.env = without_gnuplot(self.folder)
        self.file = self.write(SMALL)

    def readings(self, lines):
        path = self.folder / "readings.csv"
        path.write_text(HEADER + "".join(lines), encoding="utf-8")
        return path

    def true_readings(self):
        """Readings of a loop whose fish excrete less than the scenario says."""
        run = towerloop("run", self.file, "--out", self.folder / "truth", "--no-charts", "--set",
                        f"parameters.n_feed={TRUE_N_FEED} g/g", env=self.env)
        self.assertEqual(run.returncode, 0, run.stderr)
        lines = []
        with open(self.folder / "truth" / "series.csv", encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                if re.search(r"T(06|10|14|18|22):00:00", row["time_iso"]):
                    lines.append(f"{row['time_iso'][:16]},tank,total ammonia,{row['tank_tan_mgN_L']},mg/L as N,0.02\n")
        self.assertGreater(len(lines), 10)
        return lines

    def fit(self, log, *args, out="fit", env=None):
        args = args if env else ("--no-charts", *args)
        return towerloop("fit", self.file, log, "--out", self.folder / out, *args, env=env or self.env)

    def json(self, out="fit"):
        return json.loads((self.folder / out / "fit.json").read_text(encoding="utf-8"))


class Answer(Fit):
    def test_finds_the_value_and_writes_it(self):
        process = self.fit(self.readings(self.true_readings()), "--fit", "parameters.n_feed", "--forecast", "6 h")
        self.assertEqual(process.returncode, 0, process.stderr)
        text = process.stdout
        self.assertNotIn(ESCAPE, text)
        self.assertNotRegex(text.lower(), r"\bnan\b|\binf\b")
        self.assertTrue(all(len(line) <= 80 and line == line.rstrip() for line in text.split("\n")), text)
        self.assertRegex(text, r"^1 value fitted to \d+ readings\.")
        self.assertIn("So it is better on days it has not seen, too.", " ".join(text.split()))
        self.assertIn("Ailing fish: ask a veterinarian.", text)
        self.assertEqual(sorted(path.name for path in (self.folder / "fit").iterdir() if path.name in RESULTS), RESULTS)
        answer = self.json()
        one = answer["fitted"][0]
        self.assertEqual((one["key"], one["unit"], one["before"]), ("parameters.n_feed", "g/g", 0.092))
        self.assertAlmostEqual(one["value"], TRUE_N_FEED, delta=0.002)
        self.assertTrue(one["low"] <= TRUE_N_FEED <= one["high"])
        self.assertEqual((one["low_open"], one["high_open"], answer["interval"]),
                         (False, False, "90 %, profile likelihood"))
        self.assertTrue(one["linearised"][0] < one["value"] < one["linearised"][1])
        self.assertIn("(profile likelihood)", " ".join(text.split()))
        self.assertIn(f"All this took {answer['runs']} runs.", " ".join(text.split()))
        self.assertLess(answer["rms_in_standard_errors"]["after"], 0.3)
        self.assertGreater(answer["rms_in_standard_errors"]["before"], 1)
        # the written scenario is one, with that value
        check = towerloop("check", self.folder / "fit" / "fitted.yaml", "--json", env=self.env)
        self.assertEqual(check.returncode, 0, check.stderr)
        again = (self.folder / "fit" / "fitted.yaml").read_text(encoding="utf-8")
        self.assertAlmostEqual(float(re.search(r"n_feed: (\S+) g/g", again)[1]), one["value"], delta=1e-9)
        self.assertRegex(again, r"\A# Written by towerloop fit: 1 value fitted to \d+ readings:\n"
                                r"#   parameters\.n_feed: 0\.07\d+, was 0\.092, 90 % interval ")
        self.assertNotIn("Do not rely", again)
        with open(self.folder / "fit" / "residuals.csv", encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        self.assertEqual(len(rows), answer["readings"]["used"])
        self.assertEqual(sum(row["use"] == "held back" for row in rows), answer["readings"]["held_back"])
        self.assertEqual(len(answer["forecast"]), 8)

    def test_a_spread_takes_the_interval_among_the_built_in_ranges(self):
        process = self.fit(self.readings(self.true_readings()), "--fit", "parameters.n_feed")
        self.assertEqual(process.returncode, 0, process.stderr)
        one = self.json()["fitted"][0]
        for name, expected in [("fitted.yaml", None), ("fitted-spread.yaml", one["value"])]:
            process = towerloop("spread", self.folder / "fit" / name, "--runs", "10", "--no-charts", "--out",
                                self.folder / name[:-5], env=self.env)
            self.assertIn(process.returncode, [0, 3, 4], process.stderr)
            told = json.loads((self.folder / name[:-5] / "spread.json").read_text(encoding="utf-8"))
            inputs = {row["key"]: row for row in told["inputs"]}
            self.assertGreater(len(inputs), 15)
            self.assertIn("pump.flow", inputs)
            if expected:
                row = re.search(r'n_feed": {lognormal: {median: (\S+) g/g, factor: (\S+)}}',
                                (self.folder / "fit" / name).read_text(encoding="utf-8"))
                self.assertAlmostEqual(float(row[1]), one["value"], delta=1e-9)
                # the 90 % of it takes in the interval
                factor = float(row[2]) ** 1.645
                self.assertLessEqual(one["value"] / factor, one["low"] + 1e-9)
                self.assertGreaterEqual(one["value"] * factor, one["high"] - 1e-9)

    def test_a_fit_that_fails_its_trial_is_no_range_for_a_spread(self):
        lines = self.true_readings()
        lines[-4:] = [re.sub(r"ammonia,[^,]*", "ammonia,0.6", line) for line in lines[-4:]]
        process = self.fit(self.readings(lines), "--fit", "parameters.n_feed")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertIn("do not rely on it", " ".join(process.stdout.split()))
        self.assertFalse((self.folder / "fit" / "fitted-spread.yaml").exists())
        self.assertIn("# Do not rely on them", (self.folder / "fit" / "fitted.yaml").read_text(encoding="utf-8"))

    def test_what_was_not_tried_is_no_range_either(self):
        process = self.fit(self.readings(self.true_readings()), "--fit", "parameters.n_feed", "--hold-back", "0 %")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertIn("Not tried on readings it had not seen", " ".join(process.stdout.split()))
        self.assertFalse((self.folder / "fit" / "fitted-spread.yaml").exists())

    def test_what_is_written_down_twice_counts_once(self):
        lines = self.true_readings()
        once = self.fit(self.readings(lines), "--fit", "parameters.n_feed", out="once")
        twice = self.fit(self.readings(lines + lines), "--fit", "parameters.n_feed", out="twice")
        self.assertEqual((once.returncode, twice.returncode), (0, 0), twice.stderr)
        self.assertEqual(self.json("once")["fitted"], self.json("twice")["fitted"])
        self.assertEqual(self.json("twice")["readings"]["repeated"], len(lines))
        self.assertIn(f"Passed over: {len(lines)} written down twice (lines", " ".join(twice.stdout.split()))

    def test_a_log_of_another_time(self):
        lines = [line.replace("2027", "2026") for line in self.true_readings()]
        process = self.fit(self.readings(lines))
        self.assertEqual(process.returncode, 0, process.stderr)
        words = " ".join(process.stdout.split())
        self.assertTrue(words.startswith("Nothing fitted: no reading is of the run, 2027-06-01 to 2027-06-04. "
                                         f"Passed over: {len(lines)} before or after the run (lines 2, 3, 4, 5, 6 ..."),
                        words)
        self.assertNotIn("too little", words)

    def test_a_wild_reading_is_named_and_hardly_counts(self):
        lines = self.true_readings()
        lines[4] = re.sub(r"ammonia,[^,]*", "ammonia,9", lines[4])
        process = self.fit(self.readings(lines), "--fit", "parameters.n_feed")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertIn("Left out of this: 1 so far off", " ".join(process.stdout.split()))
        self.assertIn("1 of these shows worse water than the fitted loop has: test again",
                      " ".join(process.stdout.split()))
        self.assertEqual(self.json()["readings"]["wild_and_worse"], 1)
        self.assertAlmostEqual(self.json()["fitted"][0]["value"], TRUE_N_FEED, delta=0.004)

    def test_what_cannot_be_told_stays(self):
        # what new media begin with is nothing to mature ones
        process = self.fit(self.readings(self.true_readings()), "--fit", "parameters.n_feed", "--fit",
                           "parameters.new_aob")
        self.assertEqual(process.returncode, 0, process.stderr)
        words = " ".join(process.stdout.split())
        self.assertRegex(words, r"^1 value fitted")
        self.assertIn("Cannot be told, as the readings fit as well with any value in the range; left as in the "
                      "scenario: new_aob.", words)
        fixed = self.json()["fixed"][0]
        self.assertEqual((fixed["key"], fixed["any_value_fits"]), ("parameters.new_aob", True))
        again = (self.folder / "fit" / "fitted.yaml").read_text(encoding="utf-8")
        self.assertAlmostEqual(float(re.search(r"new_aob: (\S+) ", again)[1]), 0.0002, delta=1e-12)

    def test_an_open_end_is_said(self):
        # they only say that the fish do not excrete more
        lines = [re.sub(r"ammonia,[^,]*,mg/L as N,.*", "ammonia,<0.3,mg/L as N,0.03", line)
                 for line in self.true_readings()]
        process = self.fit(self.readings(lines), "--fit", "parameters.n_feed", "--forecast", "6 h")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertRegex(process.stdout, r"(?m)^n_feed .* at most 0\.0[789]\d* ")
        words = " ".join(process.stdout.split())
        self.assertIn("At least, at most: beyond it the readings fit as well", words)
        self.assertIn("It may lie further off, as an interval above is open.", words)
        one = self.json()["fitted"][0]
        self.assertEqual((one["low_open"], one["high_open"], one["low"]), (True, False, one["range"][0]))

    def test_a_value_at_the_end_of_its_range_is_not_built_on(self):
        # no fish excretes next to nothing: something else is wrong
        lines = [re.sub(r"ammonia,[^,]*", "ammonia,0.05", line) for line in self.true_readings()]
        process = self.fit(self.readings(lines), "--fit", "parameters.n_feed")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertRegex(process.stdout, r"(?m)^n_feed .* \*$")
        words = " ".join(process.stdout.split())
        self.assertIn("*: at the end of the range it was sought in.", words)
        self.assertNotIn("on days it has not seen, too", words)
        answer = self.json()
        self.assertEqual((answer["sound"], answer["fitted"][0]["at_end_of_range"]), (False, True))
        self.assertFalse((self.folder / "fit" / "fitted-spread.yaml").exists())
        self.assertIn("# Do not rely on them", (self.folder / "fit" / "fitted.yaml").read_text(encoding="utf-8"))

    def test_few_readings_tell_nothing(self):
        log = self.readings(self.true_readings()[:2])
        process = self.fit(log)
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertRegex(process.stdout, r"^Nothing fitted: 2 readings tell none")
        self.assertEqual(self.json()["fitted"], [])
        # nothing is known of how far off it is, so no range is given but that of a reading
        process = self.fit(log, "--forecast", "6 h", out="ahead")
        self.assertIn("how far the scenario is off nobody knows", " ".join(process.stdout.split()))
        for one in self.json("ahead")["forecast"]:
            self.assertEqual((one["low"], one["high"]), (None, None))
            self.assertTrue(one["read_low"] < one["value"] < one["read_high"])

    def test_the_number_of_threads_changes_nothing(self):
        log = self.readings(self.true_readings())
        for threads in ["1", "3"]:
            process = self.fit(log, "--fit", "parameters.n_feed", "--threads", threads, out=threads)
            self.assertEqual(process.returncode, 0, process.stderr)
        for name in ["fitted.yaml", "residuals.csv"]:
            self.assertEqual((self.folder / "1" / name).read_bytes(), (self.folder / "3" / name).read_bytes())


class Chart(Fit):
    def drawn(self, lines, *args, out="fit"):
        process = self.fit(self.readings(lines), *args, out=out, env=environment())
        self.assertEqual(process.returncode, 0, process.stderr)
        charts = self.folder / out / "charts"
        self.assertEqual(sorted(path.name for path in charts.iterdir()), ["fit.png", "fit.svg"])
        self.check_png(charts / "fit.png")
        text = (charts / "fit.svg").read_text(encoding="utf-8")
        self.assertNotRegex(text.lower(), r"\bnan\b")
        return " ".join("".join(xml.etree.ElementTree.fromstring(text).itertext()).split())

    def test_each_quantity_and_place_has_a_panel(self):
        lines = self.true_readings()
        time = lines[2].split(",")[0]
        lines += [f"{time},tank,nitrite,<5,mg/L as N,\n", f"{time},tank,nitrate,>0.01,mg/L as N,\n",
                  f"{time},tower out,oxygen,5-9,mg/L,\n", "2020-01-01T08:00,tank,nitrite,1,mg/L as N,\n"]
        lines[4] = re.sub(r"ammonia,[^,]*", "ammonia,9", lines[4])
        words = self.drawn(lines, "--fit", "parameters.n_feed")
        for expected in ["Readings and the fitted loop", "Small loop", "total ammonia, tank, mg/L as N",
                         "nitrite, tank, mg/L as N", "nitrate, tank, mg/L as N", "oxygen, tower out, mg/L",
                         "model, fitted", "model, scenario as it was", "read, one standard error",
                         "read between two colours", "read as less than this", "read as more than this",
                         "hollow: held back to try it", "far off: hardly counts", "Jun",
                         "Not shown: 1 reading outside the run or without water."]:
            self.assertIn(expected, words)
        # crosses and hollow circles: one each in the key, the others in the panels
        svg = (self.folder / "fit" / "charts" / "fit.svg").read_text(encoding="utf-8")
        self.assertEqual(svg.count("href='#gpPt1' transform"), 1 + 1)
        self.assertEqual(svg.count("href='#gpPt5' transform"), self.json()["readings"]["held_back"] + 1)

    def test_the_key_has_only_what_is_there(self):
        words = self.drawn(self.true_readings()[:2])
        self.assertIn("Readings and the loop, not fitted", words)
        for absent in ["model, fitted", "colours", "less than", "more than", "hollow", "far off", "Not shown"]:
            self.assertNotIn(absent, words)

    def test_none_is_drawn_without_need(self):
        lines = self.true_readings()
        process = self.fit(self.readings(lines), "--fit", "parameters.n_feed")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertFalse((self.folder / "fit" / "charts").exists())
        # the results are there though gnuplot is not
        process = self.fit(self.readings(lines), "--fit", "parameters.n_feed", out="bare", env=self.env)
        self.assertEqual(process.returncode, 0, process.stderr)
        self.assertIn("no charts: gnuplot is missing", process.stderr)
        self.assertTrue((self.folder / "bare" / "fitted.yaml").exists())


class Refusals(Fit):
    def refused(self, log, *args):
        process = self.fit(log, *args)
        self.assertEqual((process.returncode, process.stdout), (2, ""), process.stderr)
        self.assertFalse((self.folder / "fit").exists())
        return process.stderr

    def test_faults_of_the_log_have_their_places(self):
        log = self.readings(["2027-06-01T08:00,tank,total ammonia,much,mg/L as N,\n"])
        self.assertRegex(self.refused(log), r"readings\.csv:2:\d+: ")

    def test_a_log_that_is_not_there(self):
        self.assertIn("nowhere.csv", self.refused(self.folder / "nowhere.csv"))

    def test_keys_that_cannot_be_fitted(self):
        log = self.readings(["2027-06-01T08:00,tank,total ammonia,1,mg/L as N,\n"])
        error = self.refused(log, "--fit", "tower.trays", "--fit", "parameters.mu_aop")
        self.assertIn("--fit: tower.trays: it is counted", error)
        self.assertIn("perhaps parameters.mu_aob", error)

    def test_too_few_readings_for_what_is_asked(self):
        log = self.readings(["2027-06-01T08:00,tank,total ammonia,1,mg/L as N,\n"])
        self.assertIn("--fit: too few readings of the run, 1; expected at least 3 for 2 values",
                      self.refused(log, "--fit", "parameters.n_feed", "--fit", "parameters.mu_aob"))

    def test_options(self):
        log = self.readings(["2027-06-01T08:00,tank,total ammonia,1,mg/L as N,\n"])
        for args, words in [(("--hold-back", "95 %"), "0 to 90 %"), (("--forecast", "tomorrow"), "--forecast"),
                            (("--fit", "parameters.n_feed", "--fit", "parameters.n_feed"), "asked for twice")]:
            self.assertIn(words, self.refused(log, *args))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
