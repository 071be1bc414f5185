"""End-to-end tests of the upkeep calendar and of the blank log.

usage: upkeep_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import datetime
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

PROGRAM = pathlib.Path(sys.argv[1]).resolve()
SCENARIOS = pathlib.Path(sys.argv[2]).resolve() / "scenarios"


def towerloop(*args):
    return subprocess.run([str(PROGRAM), *map(str, args)], stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                          encoding="utf-8", timeout=600, check=False)


def unfold(data):
    """The content lines of an iCalendar file, by RFC 5545, sections 3.1 and 3.3.11."""
    assert data.endswith(b"\r\n") and b"\n" not in data.replace(b"\r\n", b"")
    for line in data[:-2].split(b"\r\n"):
        assert len(line) <= 75, line
        line.decode("utf-8")
    return data.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")[:-1]


def plain(text):
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", text), text
    return re.sub(r"\\(.)", lambda match: "\n" if match.group(1) in "nN" else match.group(1), text)


def events(lines):
    """The events of a calendar, each a dictionary of its properties by name."""
    assert lines[0] == "BEGIN:VCALENDAR" and lines[-1] == "END:VCALENDAR"
    assert "VERSION:2.0" in lines and any(line.startswith("PRODID:") for line in lines)
    found, event = [], None
    for line in lines:
        name, value = line.split(":", 1)
        if line == "BEGIN:VEVENT":
            event = {}
        elif line == "END:VEVENT":
            found.append(event)
        elif event is not None:
            assert name not in event, line
            event[name] = value
    return found


class EndToEnd(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="towerloop upkeep '")
        self.addCleanup(scratch.cleanup)
        self.folder = pathlib.Path(scratch.name)

    def run_it(self, scenario, *options, name="run"):
        path = scenario if isinstance(scenario, pathlib.Path) else SCENARIOS / f"{scenario}.yaml"
        process = towerloop("run", path, "--no-charts", "--out", self.folder / name, *options)
        self.assertEqual(process.returncode, 0, process.stderr)
        return process.stdout

    def jobs(self, name="run"):
        data = (self.folder / name / "calendar.csv").read_bytes()
        self.assertNotIn(b"\r", data)
        return list(csv.DictReader(data.decode("utf-8").splitlines()))

    def hours_in_danger(self, name):
        summary = json.loads((self.folder / name / "summary.json").read_text(encoding="utf-8"))
        return sum(limit["hours_danger"] for limit in summary["limits"])


class Calendar(EndToEnd):
    def test_a_pump_that_fouls(self):
        self.run_it("pump-that-fouls")
        jobs = self.jobs()
        clean = [job for job in jobs if job["job"] == "clean pump"]
        # 20 % of the flow is lost after so many days at the scenario's fouling
        scenario = (SCENARIOS / "pump-that-fouls.yaml").read_text(encoding="utf-8")
        fouling = float(re.search(r"fouling: ([0-9.]+) %/month", scenario).group(1)) / 3000
        self.assertEqual(clean[0]["from"], "run")
        self.assertEqual(float(clean[0]["time_d"]), math.ceil(0.2 / fouling - 1e-9))
        self.assertEqual([job["from"] for job in clean].count("scenario"), 1)
        times = [float(job["time_d"]) for job in jobs]
        self.assertEqual([int(t) for t in times], sorted(int(t) for t in times))

    def test_doses_have_the_mass_that_was_given(self):
        self.run_it("soft-water")
        doses = [float(job["amount"]) for job in self.jobs() if job["job"] == "dose"]
        summary = (self.folder / "run" / "summary.json").read_text(encoding="utf-8")
        given = float(re.search(r'"baking_soda_by_plan_g": ([0-9.e+-]+)', summary).group(1))
        self.assertGreater(len(doses), 10)
        self.assertAlmostEqual(sum(doses), given, delta=1e-4 * given)

    def test_soda_that_is_asked_for_harms_no_fish(self):
        # who gives what the calendar asks for has fish in danger for no longer
        for scenario in "stocking-increase", "dead-fish":
            self.run_it(scenario, name=scenario)
            doses = [job for job in self.jobs(scenario)
                     if (job["job"], job["from"]) == ("dose", "run") and job["amount"]]
            before = self.hours_in_danger(scenario)
            text = (SCENARIOS / f"{scenario}.yaml").read_text(encoding="utf-8")
            self.assertEqual(text.count("\nevents:\n"), 1)
            given = "".join(f"  - at: day {job['time_d']} 08:00\n"
                            f"    dose: {{baking soda: {job['amount']} g}}\n" for job in doses)
            obeyed = self.folder / "obeyed.yaml"
            obeyed.write_text(text.replace("\nevents:\n", "\nevents:\n" + given),
                              encoding="utf-8")
            self.run_it(obeyed, name=f"{scenario} obeyed")
            self.assertLessEqual(self.hours_in_danger(f"{scenario} obeyed"), before + 0.1)

    def test_winter(self):
        self.run_it("winter-tower")
        jobs = {job["job"]: job for job in self.jobs()}
        self.assertLess(jobs["stop feeding"]["time_iso"], jobs["before frost"]["time_iso"])
        self.assertLess(jobs["before frost"]["time_iso"], jobs["feed again"]["time_iso"])
        self.assertRegex(jobs["before frost"]["why"], r"-[0-9.]+ degC")

    def test_icalendar_says_the_same(self):
        for scenario in ("tap-water", "staged-stocking", "new-filter-without-fish"):
            self.run_it(scenario, name=scenario)
            jobs = self.jobs(scenario)
            calendar = events(unfold((self.folder / scenario / "calendar.ics").read_bytes()))
            self.assertEqual(len(calendar), len(jobs))
            self.assertEqual(len({event["UID"] for event in calendar}), len(jobs))
            for job, event in zip(jobs, calendar):
                self.assertEqual(plain(event["SUMMARY"]).lower(), job["what"].lower())
                self.assertIn(job["why"], plain(event["DESCRIPTION"]))
                self.assertRegex(event["DTSTAMP"], r"^\d{8}T\d{6}Z$")
                if "T" in job["time_iso"]:
                    at = datetime.datetime.strptime(event["DTSTART"], "%Y%m%dT%H%M%S")
                    self.assertEqual(at.isoformat(), job["time_iso"])
                else:
                    day = datetime.datetime.strptime(event["DTSTART;VALUE=DATE"], "%Y%m%d").date()
                    self.assertEqual(day.isoformat(), job["time_iso"])

    def test_the_page_names_the_next(self):
        text = self.run_it("new-filter-without-fish", "--units", "us")
        self.assertRegex(text, r"In calendar\.csv, due: .* lb of\s+baking soda; planned: ")

    def test_same_in_any_units_and_again(self):
        self.run_it("stocking-increase", name="metric")
        self.run_it("stocking-increase", "--units", "us", name="us")
        for name in ("calendar.csv", "calendar.ics"):
            self.assertEqual((self.folder / "metric" / name).read_bytes(),
                             (self.folder / "us" / name).read_bytes())
        # a folder with a calendar in it can be replaced
        self.run_it("stocking-increase", "--force", name="us")


class Log(EndToEnd):
    def ask(self, *args):
        process = towerloop("log", *args)
        self.assertEqual(process.returncode, 0, process.stderr)
        return process.stdout

    def test_sheet(self):
        text = self.ask(SCENARIOS / "new-filter-without-fish.yaml")
        pages = text.split("\f")
        scenario = (SCENARIOS / "new-filter-without-fish.yaml").read_text(encoding="utf-8")
        days = int(re.search(r"^length: (\d+) d", scenario, re.MULTILINE).group(1))
        self.assertEqual(len(pages), -(-days // 14))
        for page in pages:
            self.assertLessEqual(len(page.splitlines()), 60)
            self.assertLessEqual(max(map(len, page.splitlines())), 80)
        self.assertIn("of ammonium chloride", pages[0])

    def test_template(self):
        rows = list(csv.DictReader(self.ask(SCENARIOS / "tap-water.yaml", "--csv").splitlines()))
        self.assertEqual(list(rows[0]), ["time_iso", "place", "quantity", "value", "unit", "error",
                                         "method", "note"])
        self.assertEqual({row["value"] for row in rows}, {""})
        units = {row["quantity"]: row["unit"] for row in rows}
        self.assertEqual(units["nitrite"], "mg/L as N")
        self.assertEqual(units["temperature"], "degC")
        days = sorted({row["time_iso"][:10] for row in rows})
        first, second = map(datetime.date.fromisoformat, days[:2])
        self.assertEqual((second - first).days, 7)
        us = self.ask(SCENARIOS / "tap-water.yaml", "--csv", "--units", "us")
        self.assertIn(",temperature,,degF,", us)

    def test_refusals(self):
        self.assertEqual(towerloop("log").returncode, 2)
        process = towerloop("log", SCENARIOS / "tap-water.yaml", "--set", "tower.trays=none")
        self.assertEqual(process.returncode, 2)
        self.assertEqual(process.stdout, "")
        self.assertIn("tower.trays", process.stderr)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
