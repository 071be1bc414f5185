"""End-to-end tests of `towerloop endure`: how long the fish last without pump, aerator or power.

usage: endure_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import json
import pathlib
import re
import signal
import subprocess
import sys
import time
import unittest

sys.dont_write_bytecode = True
from run_e2e import ESCAPE, PROGRAM, ROOT, SMALL, EndToEnd, environment, towerloop, without_gnuplot  # noqa: E402

CASES = 4 + 1 + 4 + 5 * 4 + 1 + 1  # a card has five more
# Many fish in the small loop: in danger soon.
CROWDED = SMALL.replace("count: 12", "count: 60").replace("length: 3 d", "length: 12 d")
FROST = ("weather: {air temperature: -20 degC, latitude: 48 deg}\nstarting water: {temperature: 8 degC}\n"
         "heater: {power: 50 kW, keep at: 8 degC}\n")
# the aerator alone keeps it from danger
AIRED = SMALL.replace("volume: 6 m3, surface: 6 m2, wetted walls: 18 m2", "length: 2 m, width: 1 m, depth: 75 cm").replace(
    "aerator: {oxygen transfer: 6 g/h}", "aerator: {oxygen transfer: 2 g/h}").replace(
    "ration: 0.8 %/d", "ration: 1 %/d").replace(
    "temperature: 20 degC", "temperature: {mean: 22 degC, daily swing: 1 degC}").replace("length: 3 d", "length: 4 d")
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
        self.assertRegex(flat, r"It fails for 12 h on 2027-06-\d\d at \d\d:00, day \d+, the day of lowest oxygen: the "
                               r"worst of ")
        for words in ["pump and aerator stop", "only the pump stops", "only the aerator stops",
                      "one of two equal pumps stops", "no feed from the failure on", "500 Wh battery, 40 W aerator",
                      "emergency aerator, 6 g/h", "150 % of the fish: 45 kg", "licensed electrician",
                      "Never run a combustion generator indoors", "veterinarian",
                      "always shaded: water 2 degC less", "drain it to waste before the pump starts again"]:
            self.assertIn(words, flat)

    def test_no_change_of_water_brings_oxygen_meanwhile(self):
        """Changes fall on midnight. It fails at 20:00, and nobody gets up for them."""
        self.done("--at", "day 9 20:00", "--set", "water change={every: 1 d, amount: 50 %}")
        course = [row["oxygen_mg_L_fish_100_pct"] for row in self.courses() if row["hours"] <= 6]
        self.assertGreater(len(course), 60)
        self.assertTrue(all(b <= a + 0.01 for a, b in zip(course, course[1:])), course)

    def test_media_under_water_that_stand(self):
        for under, told in (("yes", True), ("no", False)):
            out = self.folder / under
            process = towerloop("endure", ROOT / "scenarios" / "open-air-or-submerged.yaml", "--set",
                                f"tower.submerged={under}", "--out", out, "--no-charts")
            self.expect(process, 0)
            self.assertEqual("Hydrogen sulfide can form" in process.stdout, told, process.stdout)

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
        sized = re.search(r"takes an aerator of (\S+) g/h from the first minute to keep oxygen 0.5 mg/L above "
                          r"danger for 12 h, whichever hour of that day it fails", " ".join(text.split()))
        self.assertGreaterEqual(float(sized.group(1)), answer["aerator_needed_g_h"])
        self.assertLess(float(sized.group(1)), 1.01 * answer["aerator_needed_g_h"])
        shown = re.search(r"^pump and aerator stop +(\S+) +(\S+)", text, re.M)
        self.assertEqual(shown.group(2), str(int(float(power["minutes_to_danger"]))))
        for case, words in [("failure_power", "pump and aerator stop"), ("failure_pump", "only the pump stops"),
                            ("failure_half", "one of two equal pumps stops")]:
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

    def test_no_hour_is_worse(self):
        """Of the day that is chosen, and of the ones that were tried: none is sooner in danger."""
        self.done()
        answer = self.json()
        last = lambda start: float("inf") if start["minutes_to_danger"] is None else start["minutes_to_danger"]
        chosen = [start for start in answer["starts"] if start["at"] == answer["question"]["at"]]
        self.assertEqual(len(chosen), 1)
        self.assertAlmostEqual(last(chosen[0]), float(self.rows()["failure_power"]["minutes_to_danger"]), delta=0.01)
        self.assertGreaterEqual(len(answer["starts"]), 24)
        self.assertTrue(all(last(start) >= last(chosen[0]) for start in answer["starts"]))
        day = int(answer["question"]["at_d"])
        for hour in (0, 6, 13, 19):
            self.done("--at", f"day {day} {hour:02d}:00", out=str(hour))
            self.assertGreaterEqual(float(self.rows(str(hour))["failure_power"]["minutes_to_danger"]) + 0.01,
                                    last(chosen[0]))

    def test_stress_comes_soonest_at_another_hour(self):
        """Where no hour is danger, that hour is told, and a failure then is found to be as told."""
        file = self.write(AIRED, "aired.yaml")
        said = " ".join(self.done("--fails", "pump", file=file).stdout.split())
        hour, h, least = re.search(r"If it fails at (\d\d:\d\d) they are under stress soonest, after (\d+) h (\d+) min", said).groups()
        answer = self.json()
        chosen = [start for start in answer["starts"] if start["at"] == answer["question"]["at"]][0]
        self.assertIsNone(chosen["minutes_to_danger"])
        soonest = min(start["minutes_to_caution"] or float("inf") for start in answer["starts"])
        self.assertLess(soonest, chosen["minutes_to_caution"] - 1)
        self.assertAlmostEqual(soonest, 60 * int(h) + int(least), delta=1)
        self.done("--fails", "pump", "--at", f"day {int(answer['question']['at_d'])} {hour}", file=file, out="then")
        self.assertAlmostEqual(float(self.rows("then")["failure_pump"]["minutes_to_caution"]), soonest, delta=0.1)

    def test_the_day_that_is_asked_for(self):
        self.done("--at", "day 5", out="day")
        self.assertTrue(all(start["at"].startswith("2027-06-06T") for start in self.json("day")["starts"]))
        self.assertEqual(len(self.json("day")["starts"]), 24)
        text = self.done("--at", "day 5 14:30", out="hour").stdout
        self.assertIn("It fails for 12 h on 2027-06-06 at 14:30, day 5, as was asked for.", " ".join(text.split()))
        self.assertIn("if it fails then.", " ".join(text.split()))
        self.done("--at", "14:30", out="clock")
        self.assertTrue(all(start["at"].endswith("T14:30:00") for start in self.json("clock")["starts"]))

    def test_the_verdict_takes_in_every_limit(self):
        """Few fish in much air: oxygen holds, what else passes a limit is told and counts."""
        few = SMALL.replace("length: 3 d", "length: 12 d").replace("count: 12", "count: 4")
        file = self.write(few + "limits: {ammonia: {caution: 0.0005 mg/L as N}, pH swing: {caution: 9, danger: 9}}\n",
                          "few.yaml")
        process = self.endure("--outage", "2 h", "--fail-on", "caution", file=file, out="few")
        self.assertEqual(process.returncode, 3, process.stderr)
        self.assertRegex(" ".join(process.stdout.split()),
                         r"^Verdict: caution, by limits of your own\. .*have enough oxygen for 2 h: .* Beyond caution[^:]*: un-ionised ammonia 0\.0")
        told = {limit["name"]: limit for limit in self.json("few")["limits"]}
        self.assertEqual(self.json("few")["verdict"], "caution")
        self.assertEqual(told["un-ionised ammonia"]["verdict"], "caution")
        self.assertEqual(told["oxygen"]["verdict"], "within limits")
        self.assertEqual(len(told), 17)

    def test_outside_a_published_range(self):
        cold = SMALL.replace("length: 3 d", "length: 4 d").replace("count: 12", "count: 1").replace("20 degC", "12 degC")
        file = self.write(cold + "limits: {ammonia: {caution: 9 mg/L as N, danger: 9 mg/L as N}, "
                          "total ammonia: {caution: 9 mg/L as N, danger: 9 mg/L as N}, "
                          "pH swing: {caution: 9, danger: 9}, pH: {caution high: 10, danger high: 10}}\n", "cold.yaml")
        process = self.endure("--outage", "10 min", "--fail-on", "caution", file=file, out="cold")
        self.assertEqual(process.returncode, 3, process.stderr)
        self.assertRegex(" ".join(process.stdout.split()), r"^Verdict: caution: outside published range, by limits of your own\. .*Outside "
                         r"published range: .*temperature 12 degC \(oxygen use of fish: 15 to 30\)")
        self.assertEqual(self.json("cold")["verdict"], "caution: outside published range")
        self.assertIn("oxygen use of fish", [note["use"] for note in self.json("cold")["outside_published_range"]])

    def test_limits_that_are_none(self):
        for off in (["danger"], ["caution"], ["danger", "caution"]):
            with self.subTest(off=off):
                sets = [word for key in off for word in ("--set", f"limits.oxygen.{key}=none")]
                text = self.done(*sets, env=environment(), out="-".join(off)).stdout
                self.assertNotRegex(text.lower(), r"\bnan\b|\binf\b")
                die = re.search(r"^pump and aerator stop +(\S+) +(\S+) +(\S+) ", text, re.M).groups()
                for at, word in enumerate(("caution", "danger")):
                    self.assertLessEqual(int(die[at]), int(die[2]), "death is danger")
                    if word == "danger" and word in off:
                        self.assertEqual(die[at], die[2])
                        self.assertIn("Danger is when they die", " ".join(text.split()))
                heading = re.search(r"^minutes until oxygen below +(\S+) +(\S+) ", text, re.M)
                self.assertEqual(heading.groups(), ("none" if "caution" in off else "6", "none" if "danger" in off else "3"))
                self.assertNotIn("nan", (self.folder / "-".join(off) / "charts" / "endure.svg").read_text(encoding="utf-8"))

    def test_fish_of_the_last_hours(self):
        file = self.write(SMALL + "events: [{at: day 2 23:59, add fish: {name: carp, count: 200, mean mass: 2 kg}}]\n")
        text = " ".join(self.done(file=file).stdout.split())
        self.assertIn("in the day after the end, as the last day left it", text)
        self.assertTrue(text.startswith("Verdict: danger. "))

    def test_an_outage_of_seconds(self):
        text = " ".join(self.done("--outage", "1 s").stdout.split())
        self.assertIn("for 1 s", text)
        self.assertNotIn("0 min", text.replace("30 min", "").replace("20 min", ""))

    def test_film_of_a_day_is_told_once(self):
        flat = " ".join(self.done("--outage", "5 h", out="own").stdout.split())
        self.assertRegex(flat, r"The trays' film loses at worst in 5 h \S+ % of what oxidises ammonia, \S+ % of what oxidises "
                               r"nitrite; in 24 h \S+ % and \S+ %\.")
        flat = " ".join(self.done("--outage", "24 h", out="day").stdout.split())
        self.assertRegex(flat, r"The trays' film loses at worst in 24 h \S+ % of what oxidises ammonia, \S+ % of what oxidises "
                               r"nitrite\.")

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
        self.assertGreaterEqual(float(rows["help_feed_stopped"]["lowest_oxygen_mg_L"]),
                                float(rows["failure_power"]["lowest_oxygen_mg_L"]))
        self.assertGreater(last(rows["help_emergency_aerator"]), last(rows["failure_power"]))

    def test_reference_figures(self):
        """The model document's: everything off at midnight of day 100, 40 and 80 kg of fish."""
        file = ROOT / "tests" / "data" / "section10_parameters.yaml"
        for count, hours, before, after in [(80, 6, 6.44, 3.24), (160, 2, 4.69, 2.25)]:
            self.done("--set", "length=101 d", "--set", "aerator.oxygen transfer=200 g/d", "--set",
                      f"fish[0].count={count}", "--at", "day 100 00:00", "--no-charts", file=file, out=str(count))
            course = {row["hours"]: row["oxygen_mg_L_fish_100_pct"] for row in self.courses(str(count))}
            self.assertAlmostEqual(course[0], before, delta=0.02)
            self.assertAlmostEqual(course[hours], after, delta=0.02)

    def test_options_reach_the_cases(self):
        self.done("--outage", "6 h", "--at", "22:30", "--fails", "pump", "--aerator", "20 g/h", "--battery",
                  "0.1 kWh", "--watts", "50 W", "--efficiency", "1 kg/kWh", "--units", "us")
        rows, question = self.rows(), self.json()["question"]
        self.assertTrue(question["at"].endswith("T22:30:00"))
        self.assertFalse(question["worst_hour"])
        self.assertEqual({row["outage_h"] for key, row in rows.items() if key != "film"}, {"6"})
        self.assertEqual(rows["help_emergency_aerator"]["extra_aerator_g_h"], "20")
        self.assertEqual(rows["help_battery"]["extra_aerator_g_h"], "50")  # 50 W at 1 kg/kWh
        self.assertEqual(rows["help_battery"]["extra_aerator_for_h"], "2")  # 100 Wh at 50 W
        self.assertEqual(rows["fish_75_warmer_2"]["fails"], "pump")

    def test_exit_status_by_the_verdict(self):
        self.assertEqual(self.endure("--fail-on", "danger").returncode, 3)
        file = self.write(SMALL, "few.yaml")
        self.assertEqual(self.endure("--fail-on", "danger", "--outage", "1 min", file=file, out="short").returncode, 0)

    def test_without_power_the_heater_is_off_and_ice_is_danger(self):
        frost = SMALL.replace("temperature: 20 degC\n", FROST)
        self.assertIn("heater", frost)
        file = self.write(frost, "frost.yaml")
        args = ["--outage", "48h", "--at", "day 1 06:00"]
        flat = " ".join(self.done(*args, file=file).stdout.split())
        self.assertRegex(flat, r"^Verdict: danger\. .*After \d+ h (\d+ min )?the water freezes, ")
        self.assertIn("With the heater off as well the water is at 0 degC when the power is back.", flat)
        rows = self.rows()
        self.assertLess(float(rows["failure_power"]["minutes_to_ice"]), 48 * 60)
        self.assertEqual(rows["failure_pump"]["minutes_to_ice"], "")
        self.assertGreater(float(rows["failure_pump"]["water_when_back_degC"]), 7)

    def test_quiet(self):
        process = self.done("--quiet", "--no-charts")
        self.assertEqual(process.stdout + process.stderr, "")

    def test_chart(self):
        self.done(env=environment())
        charts = self.folder / "study" / "charts"
        self.check_png(charts / "endure.png")
        self.check_svg(charts / "endure.svg", "Oxygen when pump and aerator stop")
        text = (charts / "endure.svg").read_text(encoding="utf-8")
        for words in ["Small loop", "caution below 6", "danger below 3", "it runs again", "150 % of the fish"]:
            self.assertIn(words, text)


class Help(Endure):
    def test_fits_a_terminal(self):
        text = towerloop("endure", "--help").stdout
        self.assertEqual([line for line in text.splitlines() if len(line) > 80], [])
        self.assertIn("default: as the loop's, or 10 g/h", text)
        self.assertIn("default: the worst hour", text)


class Same(Endure):
    def test_threads_change_nothing(self):
        self.done("--threads", "1", out="one")
        self.done("--threads", "4", out="four")
        self.assertEqual(self.bytes_of("one"), self.bytes_of("four"))

    def test_goes_on_after_an_interruption(self):
        file = self.write(CROWDED.replace("length: 12 d", "length: 300 d").replace("every: 1 h", "every: 1 d"))
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
        self.assertTrue(all(len(line) <= 80 for line in stderr.splitlines()), stderr)
        again = self.done("--no-charts", file=file)
        self.assertIn(f"Going on: {len(kept)} of {CASES} cases", again.stderr)
        for name, content in kept.items():
            self.assertEqual((cases / name).read_bytes(), content)
        fresh = self.done("--no-charts", file=file, out="fresh")
        self.assertEqual(self.bytes_of(), self.bytes_of("fresh"))
        self.assertEqual(again.stdout, fresh.stdout)

    def test_an_interruption_before_the_first_case(self):
        file = self.write(CROWDED.replace("length: 12 d", "length: 3000 d").replace("every: 1 h", "every: 1 d"))
        process = subprocess.Popen([str(PROGRAM), "endure", str(file), "--out", str(self.folder / "study")],
                                   stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                                   env=self.env)
        catches = lambda: int(re.search(r"SigCgt:\s*(\w+)", pathlib.Path(f"/proc/{process.pid}/status").read_text())[1], 16)
        while process.poll() is None and not catches() & 1 << signal.SIGINT - 1:
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        stdout, stderr = process.communicate(timeout=60)
        self.assertEqual((process.returncode, stdout), (130, ""), stderr)
        self.assertEqual(stderr, "towerloop: interrupted while looking for the worst hour; nothing is kept\n")
        self.assertFalse((self.folder / "study").exists())

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


    def test_a_changed_log_of_meals_counts(self):
        meals = self.folder / "meals.csv"
        text = re.sub(r"feeding: .*", "feeding: {log: {file: meals.csv}, protein: 38 %}", CROWDED)
        self.assertIn("meals.csv", text)
        file = self.write(text)
        meals.write_text("time_d,feed_g\n0.3,10\n9.3,10\n", encoding="utf-8")
        self.done(file=file)
        before = self.bytes_of()
        meals.write_text("time_d,feed_g\n0.3,10\n9.3,400\n", encoding="utf-8")
        process = self.done(file=file)
        self.assertNotIn("Going on", process.stderr)
        self.done(file=file, out="fresh")
        self.assertEqual(self.bytes_of(), self.bytes_of("fresh"))
        self.assertNotEqual(self.bytes_of(), before)
        self.assertEqual((self.folder / "study" / "inputs" / "meals.csv").read_bytes(), meals.read_bytes())


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
                ("--at", "12:61", "22:30"), ("--at", "day", "day 55"), ("--at", "day x", "day 55"),
                ("--at", "day 5.5", "day 55"), ("--at", "day 5 ", "day 55"), ("--at", "day -1", "day 55"),
                ("--at", "day 99999999", "day 55"), ("--at", "day 5 7:30", "day 55"), ("--at", "äö:30", "22:30"), ("--at", "", "22:30"),
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
        self.assertIn("not within the scenario", self.refused("--at", "day 12"))
        self.assertIn("not within the scenario", self.refused("--at", "day 700 10:00"))
        self.assertIn("No such file", self.refused(file=self.folder / "none.yaml"))
        self.assertFalse((self.folder / "study").exists())

    def test_a_loop_without_aerator(self):
        file = self.write(CROWDED.replace("aerator: {oxygen transfer: 6 g/h}", "aerator: {oxygen transfer: 0 g/h}"))
        text = self.done(file=file).stdout
        self.assertNotIn("only the", text)
        self.assertRegex(text, r"\AVerdict: danger\. Without the pump the fish are")
        self.assertEqual(len(re.findall(r"^the pump stops ", text, re.M)), 1)
        self.assertIn("emergency aerator, 10 g/h", text)

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
