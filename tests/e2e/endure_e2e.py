"""End-to-end tests of `towerloop endure`: how long the fish last without pump, aerator or power.

usage: endure_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import json
import re
import signal
import subprocess
import sys
import time
import unittest

sys.dont_write_bytecode = True
from run_e2e import ESCAPE, PROGRAM, ROOT, SMALL, EndToEnd, environment, towerloop, without_gnuplot  # noqa: E402

CASES = 4 + 1 + 4 + 5 * 4 + 1
# Many fish in the small loop: in danger soon.
CROWDED = SMALL.replace("count: 12", "count: 60").replace("length: 3 d", "length: 12 d")
RESULTS = ["endure.csv", "endure.json", "oxygen.csv", "scenario.yaml"]


class Endure(EndToEnd):
    def setUp(self):
        super().setUp()
        self.env = without_gnuplot(self.folder)
        self.file = self.write(CROWDED)

    def endure(self, *args, file=None, out="study", env=None):
        return towerloop("endure", file or self.file, "--out", self.folder / out, *args, env=env or self.env)

    def done(self, *args, **options):
        process = self.endure(*args, **options)
        self.assertEqual(process.returncode, 0, process.stderr)
        return process

    def bytes_of(self, out="study"):
        return {name: (self.folder / out / name).read_bytes() for name in RESULTS}

    def rows(self, out="study"):
        with open(self.folder / out / "endure.csv", encoding="utf-8", newline="") as file:
            return {row["case"]: row for row in csv.DictReader(file)}

    def json(self, out="study"):
        return json.loads((self.folder / out / "endure.json").read_text(encoding="utf-8"))

    def courses(self, out="study"):
        with open(self.folder / out / "oxygen.csv", encoding="utf-8", newline="") as file:
            return [{key: float(value) for key, value in row.items() if value} for row in csv.DictReader(file)]


class Answer(Endure):
    def test_says_how_long_and_what_helps(self):
        process = self.done()
        text = process.stdout
        self.assertNotIn(ESCAPE, text)
        self.assertNotRegex(text.lower(), r"\bnan\b|\binf\b")
        self.assertTrue(all(len(line) <= 80 and line == line.rstrip() for line in text.split("\n")), text)
        self.assertLessEqual(len(text.splitlines()), 42, "one screen")
        flat = " ".join(text.split())
        self.assertRegex(flat, r"^Verdict: danger\. Without pump and aerator the fish are in danger after "
                               r"(\d+ h )?\d+ min: oxygen below 3 mg/L\.")
        self.assertIn("on 2027-06-12 at", flat)
        for words in ["pump and aerator stop", "only the pump stops", "only the aerator stops",
                      "one of two half-size pumps stops", "feed stopped at once", "500 Wh battery, 40 W aerator",
                      "emergency aerator, 6 g/h", "150 % of the fish: 45 kg", "licensed electrician",
                      "Never run a combustion generator indoors", "veterinarian"]:
            self.assertIn(words, flat)

    def test_files_agree_with_each_other_and_with_the_table(self):
        text = self.done().stdout
        rows, answer, courses = self.rows(), self.json(), self.courses()
        self.assertEqual(len(rows), CASES - 1)
        self.assertEqual([case["case"] for case in answer["cases"]], list(rows))
        for case in answer["cases"]:
            for key, value in case.items():
                shown = rows[case["case"]].get(key)
                if isinstance(value, float):
                    self.assertAlmostEqual(float(shown), value, delta=1e-5 * max(1, abs(value)))
        power = rows["failure_power"]
        shown = re.search(r"^pump and aerator stop +(\S+) +(\S+)", text, re.M)
        self.assertEqual(shown.group(2), str(int(float(power["minutes_to_danger"]))))
        for case, words in [("failure_power", "pump and aerator stop"), ("failure_pump", "only the pump stops"),
                            ("failure_half", "one of two half-size pumps stops")]:
            back = [rows[case][key] for key in ("nh3_back_d", "no2_back_d", "oxygen_back_d")]
            cell = re.search(f"^{words} .* (\\S+)$", text, re.M).group(1)
            self.assertIn(cell, [f"{max(map(float, back)):.1f}"] if all(back) else ["-", ">13"])
        # the course of all the fish passes 3 mg/L in the five minutes that hold the moment
        k = int(float(power["minutes_to_danger"]) / 5)
        name = "oxygen_mg_L_fish_100_pct"
        self.assertGreaterEqual(courses[k][name], 3)
        self.assertLess(courses[k + 1][name], 3)
        self.assertAlmostEqual(courses[k]["hours"], k / 12, places=5)
        self.assertEqual(answer["verdict"], "danger")
        self.assertGreater(answer["aerator_needed_g_h"], 0)
        self.assertTrue((self.folder / "study" / "inputs" / "small.yaml").read_text(encoding="utf-8") == CROWDED)

    def test_the_order_of_things(self):
        """More fish, warmer water, an aerator taken away: never longer."""
        self.done()
        rows = self.rows()
        last = lambda row: float(row["minutes_to_danger"] or "inf")
        fish, warmer = [50, 75, 100, 125, 150], [-4, 0, 2, 4]
        for more in range(1, 5):
            for w in warmer:
                self.assertLessEqual(last(rows[f"fish_{fish[more]}_warmer_{w}"]),
                                     last(rows[f"fish_{fish[more - 1]}_warmer_{w}"]))
        for f in fish:
            for w in range(1, 4):
                self.assertLessEqual(last(rows[f"fish_{f}_warmer_{warmer[w]}"]),
                                     last(rows[f"fish_{f}_warmer_{warmer[w - 1]}"]))
        self.assertEqual(rows["fish_100_warmer_0"]["minutes_to_danger"], rows["failure_power"]["minutes_to_danger"])
        self.assertLessEqual(last(rows["failure_power"]), last(rows["failure_pump"]))
        self.assertGreater(float(rows["help_feed_stopped"]["lowest_oxygen_mg_L"]),
                           float(rows["failure_power"]["lowest_oxygen_mg_L"]))
        self.assertGreater(last(rows["help_emergency_aerator"]), last(rows["failure_power"]))

    def test_reference_figures(self):
        """The model document's: everything off at midnight of day 100, 40 and 80 kg of fish."""
        file = ROOT / "tests" / "data" / "section10_parameters.yaml"
        for count, hours, before, after in [(80, 6, 6.44, 3.24), (160, 2, 4.69, 2.25)]:
            self.done("--set", "length=101 d", "--set", "aerator.oxygen transfer=200 g/d", "--set",
                      f"fish[0].count={count}", "--at", "00:00", "--no-charts", file=file, out=str(count))
            course = {row["hours"]: row["oxygen_mg_L_fish_100_pct"] for row in self.courses(str(count))}
            self.assertAlmostEqual(course[0], before, delta=0.02)
            self.assertAlmostEqual(course[hours], after, delta=0.02)

    def test_options_reach_the_cases(self):
        self.done("--outage", "6 h", "--at", "22:30", "--fails", "pump", "--aerator", "20 g/h", "--battery",
                  "0.1 kWh", "--watts", "50 W", "--efficiency", "1 kg/kWh", "--units", "us")
        rows, question = self.rows(), self.json()["question"]
        self.assertEqual(question["at"], "2027-06-12T22:30:00")
        self.assertFalse(question["worst_hour"])
        self.assertEqual({row["outage_h"] for key, row in rows.items() if key != "film"}, {"6"})
        self.assertEqual(rows["help_emergency_aerator"]["extra_aerator_g_h"], "20")
        self.assertEqual(rows["help_battery"]["extra_aerator_g_h"], "50")  # 50 W at 1 kg/kWh
        self.assertEqual(rows["help_battery"]["extra_aerator_for_h"], "2")  # 100 Wh at 50 W
        self.assertEqual(rows["fish_75_warmer_2"]["fails"], "pump")

    def test_exit_status_by_the_verdict(self):
        self.assertEqual(self.endure("--fail-on", "danger").returncode, 3)
        self.assertEqual(self.endure("--fail-on", "danger", "--outage", "1 min", out="short").returncode, 0)

    def test_quiet(self):
        process = self.done("--quiet", "--no-charts")
        self.assertEqual(process.stdout + process.stderr, "")

    def test_chart(self):
        self.done(env=environment())
        charts = self.folder / "study" / "charts"
        self.check_png(charts / "endure.png")
        self.check_svg(charts / "endure.svg", "Oxygen when pump and aerator stop")
        text = (charts / "endure.svg").read_text(encoding="utf-8")
        for words in ["Small loop", "caution, 6", "danger, 3", "it runs again", "150 % of the fish"]:
            self.assertIn(words, text)


class Same(Endure):
    def test_threads_change_nothing(self):
        self.done("--threads", "1", out="one")
        self.done("--threads", "4", out="four")
        self.assertEqual(self.bytes_of("one"), self.bytes_of("four"))

    def test_goes_on_after_an_interruption(self):
        file = self.write(CROWDED.replace("length: 12 d", "length: 800 d").replace("every: 1 h", "every: 1 d"))
        command = [str(PROGRAM), "endure", str(file), "--out", str(self.folder / "study"), "--no-charts"]
        process = subprocess.Popen([*command, "--threads", "1"], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, text=True, env=self.env)
        cases = self.folder / "study" / "cases"
        while process.poll() is None and not list(cases.glob("*.json")):
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        stdout, stderr = process.communicate(timeout=60)
        self.assertEqual(process.returncode, 130, stderr)
        self.assertEqual(stdout, "")
        kept = {path.name: path.read_bytes() for path in cases.glob("*.json")}
        self.assertTrue(0 < len(kept) < CASES)
        self.assertIn(f"{len(kept)} of {CASES} cases are kept", stderr)
        again = self.done("--no-charts", file=file)
        self.assertIn(f"Going on: {len(kept)} of {CASES} cases", again.stderr)
        for name, content in kept.items():
            self.assertEqual((cases / name).read_bytes(), content)
        fresh = self.done("--no-charts", file=file, out="fresh")
        self.assertEqual(self.bytes_of(), self.bytes_of("fresh"))
        self.assertEqual(again.stdout, fresh.stdout)

    def test_what_is_spoilt_or_missing_is_done_again(self):
        self.done()
        whole = self.bytes_of()
        cases = self.folder / "study" / "cases"
        (cases / "film.json").unlink()
        (cases / "help_battery.json").write_text("{\"case\": \"help_", encoding="utf-8")
        (cases / "aerator_needed.json").write_text("[]", encoding="utf-8")
        process = self.done()
        self.assertIn(f"Going on: {CASES - 3} of {CASES}", process.stderr)
        self.assertEqual(self.bytes_of(), whole)

    def test_another_scenario_takes_nothing_over(self):
        self.done()
        before = self.bytes_of()
        self.file.write_text(CROWDED.replace("count: 60", "count: 50"), encoding="utf-8")
        process = self.done()
        self.assertNotIn("Going on", process.stderr)
        self.done(out="fresh")
        self.assertEqual(self.bytes_of(), self.bytes_of("fresh"))
        self.assertNotEqual(self.bytes_of(), before)

    def test_readings_of_temperature_count(self):
        readings = self.folder / "water.csv"
        file = self.write(CROWDED.replace("temperature: 20 degC", "temperature: {file: water.csv}"))
        readings.write_text("time_d,temperature_degC\n0,20\n12,20\n", encoding="utf-8")
        self.done(file=file)
        before = self.rows()["failure_power"]["minutes_to_danger"]
        readings.write_text("time_d,temperature_degC\n0,20\n12,24\n", encoding="utf-8")
        self.done(file=file)
        self.assertLess(float(self.rows()["failure_power"]["minutes_to_danger"]), float(before))
        self.assertEqual((self.folder / "study" / "inputs" / "water.csv").read_bytes(), readings.read_bytes())


class Refusals(Endure):
    def refused(self, *args, status=2, **options):
        process = self.endure(*args, **options)
        self.assertEqual(process.returncode, status, process.stderr)
        self.assertEqual(process.stdout, "")
        self.assertTrue(process.stderr.startswith(("towerloop: ", str(self.folder))), process.stderr)
        return process.stderr

    def test_wrong_options(self):
        for option, value, words in [
                ("--outage", "12", "unit"), ("--outage", "-1 h", "more than 0"), ("--outage", "9 d", "at most 7"),
                ("--outage", "", "--outage"), ("--outage", "1e999 h", "--outage"), ("--outage", "ein Tag", "--outage"),
                ("--at", "25:00", "22:30"), ("--at", "7:30", "22:30"), ("--at", "1::30", "22:30"),
                ("--at", "12:61", "22:30"), ("--at", "äö:30", "22:30"), ("--at", "", "22:30"),
                ("--fails", "filter", "power, pump, aerator or half"), ("--fails", "", "power, pump"),
                ("--aerator", "20", "unit"), ("--aerator", "0 g/h", "more than 0"), ("--battery", "500 W", "Wh"),
                ("--watts", "40 Wh", "W"), ("--efficiency", "0.7", "kg/kWh"), ("--threads", "0", "from 1 to 256"),
                ("--threads", "2.5", "whole number"), ("--threads", "many", "whole number")]:
            with self.subTest(option=option, value=value):
                self.assertIn(words, self.refused(option, value))
        self.assertFalse((self.folder / "study").exists())

    def test_nothing_to_ask(self):
        for change, words in [(("length: 12 d", "length: 18 h"), "no whole day"),
                              (("fish: [{name: koi, count: 60, mean mass: 500 g}]", "fish: []"), "no fish")]:
            file = self.write(CROWDED.replace(*change), "other.yaml")
            self.assertIn(words, self.refused(file=file))
        file = self.write(CROWDED.replace("aerator: {oxygen transfer: 6 g/h}", "aerator: {oxygen transfer: 0 g/h}"),
                          "still.yaml")
        self.assertIn("no aerator runs", self.refused("--fails", "aerator", file=file))
        self.assertIn("No such file", self.refused(file=self.folder / "none.yaml"))
        self.assertFalse((self.folder / "study").exists())

    def test_a_loop_without_aerator(self):
        file = self.write(CROWDED.replace("aerator: {oxygen transfer: 6 g/h}", "aerator: {oxygen transfer: 0 g/h}"))
        process = self.done(file=file)
        self.assertNotIn("only the aerator stops", process.stdout)
        self.assertIn("emergency aerator, 10 g/h", process.stdout)

    def test_folders_of_others(self):
        self.done()
        self.assertIn("another question", self.refused("--outage", "2 h", status=1))
        self.done("--outage", "2 h", "--force")
        self.assertEqual(self.rows()["failure_power"]["outage_h"], "2")
        own = self.folder / "study" / "cases" / "notes.txt"
        own.write_text("mine", encoding="utf-8")
        self.assertIn("notes.txt", self.refused("--force", status=1))
        self.assertEqual(own.read_text(encoding="utf-8"), "mine")
        (self.folder / "other").mkdir()
        (self.folder / "other" / "letter.txt").write_text("mine", encoding="utf-8")
        self.assertIn("no study of towerloop", self.refused("--force", out="other", status=1))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
