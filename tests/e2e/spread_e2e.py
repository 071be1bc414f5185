"""End-to-end tests of `towerloop spread` and `towerloop merge`: how sure a verdict is, in parts and after a stop.

usage: spread_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import unittest

sys.dont_write_bytecode = True
from run_e2e import ESCAPE, PROGRAM, ROOT, SMALL, EndToEnd, environment, towerloop  # noqa: E402

RESULTS = ["chances.csv", "scenario.yaml", "spread.csv", "spread.json"]
RUNS = 300  # five blocks


class Spread(EndToEnd):
    def setUp(self):
        super().setUp()
        self.file = self.write(SMALL)

    def done(self, *args, out="all", runs=RUNS, status=0, file=None):
        process = towerloop("spread", file or self.file, "--runs", runs, "--out", self.folder / out, "--no-charts",
                            *args)
        self.assertEqual(process.returncode, status, process.stderr)
        return process

    def merge(self, *folders, out="merged", status=0, more=()):
        process = towerloop("merge", *(self.folder / name for name in folders), "--out", self.folder / out,
                            "--no-charts", *more)
        self.assertEqual(process.returncode, status, process.stderr)
        return process

    def files(self, out, names=None):
        """What lies in a folder, by name, without its blocks."""
        base = self.folder / out
        return {str(path.relative_to(base)): path.read_bytes() for path in sorted(base.rglob("*"))
                if path.is_file() and path.parent.name != "blocks" and (names is None or path.name in names)}

    def blocks(self, out):
        return {path.name: path.read_bytes() for path in (self.folder / out / "blocks").iterdir()}

    def json(self, out="all"):
        def refuse(text):
            raise ValueError(text)
        return json.loads((self.folder / out / "spread.json").read_text(encoding="utf-8"), parse_constant=refuse)

    def rows(self, name, out="all"):
        with open(self.folder / out / name, encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


class Answer(Spread):
    def test_says_how_sure_it_is(self):
        process = self.done()
        text = process.stdout
        self.assertNotIn(ESCAPE, text)
        self.assertNotRegex(text.lower(), r"\bnan\b|\binf\b")
        self.assertTrue(all(len(line) <= 80 and line == line.rstrip() for line in text.split("\n")), text)
        flat = " ".join(text.split())
        self.assertRegex(flat, r"^Verdict: (within limits|caution|danger)\. Within limits in [^.]* runs \(90 % sure: ")
        self.assertIn("A chance is no promise", flat)
        self.assertIn("ask a veterinarian", flat)
        for name in RESULTS + ["study.json"]:
            self.assertTrue((self.folder / "all" / name).is_file(), name)

    def test_says_what_a_run_says_with_its_verdict(self):
        """Whose limits it goes by, and what it is too short for; not where it is danger anyway."""
        narrow = "spread.parameters.mu_aob={uniform: [0.779 1/d, 0.781 1/d]}"
        short = "A run of 3 d is too short to tell how ammonia, nitrite and nitrate end"
        flat = lambda *args, runs=64: " ".join(self.done("--set", narrow, *args, "--force", runs=runs).stdout.split())
        text = flat()
        self.assertTrue(text.startswith("Verdict: caution."), text)
        self.assertIn(short, text)
        self.assertNotIn("limits of your own", text)
        text = flat("--set", "limits.pH swing.caution=0.9")
        self.assertIn("Judged by limits of your own (values changed: 1). " + short, text)
        self.assertNotIn("too short", flat("--set", "fish[0].count=400"))
        self.assertNotIn("too short", flat("--set", "length=14 d"))
        self.assertIn("There are no fish in this run", flat("--set", "fish=[]"))

    def test_files_agree_with_each_other(self):
        self.done()
        answer = self.json()
        self.assertEqual((answer["format"], answer["runs"], answer["not_known"], answer["seed"]), (1, RUNS, 0, "1"))
        chance = answer["chance"]
        for one in (chance["within_limits"], chance["caution"], chance["danger"], chance["fish_lost"]):
            self.assertEqual(one["of"], RUNS)
            self.assertTrue(0 <= one["low"] <= one["share"] <= one["high"] <= 1, one)
        self.assertEqual(chance["within_limits"]["runs"] + chance["caution"]["runs"], RUNS)
        self.assertLessEqual(chance["danger"]["runs"], chance["caution"]["runs"])
        table = self.rows("chances.csv")
        self.assertEqual([row["limit"] for row in table], [limit["name"] for limit in answer["limits"]])
        for row, limit in zip(table, answer["limits"]):
            self.assertEqual(int(row["danger_runs"]), limit["danger"]["runs"])
            self.assertLessEqual(limit["danger"]["runs"], limit["caution"]["runs"])
            self.assertLessEqual(limit["caution"]["runs"], chance["caution"]["runs"])
            self.assertEqual(set(limit["rank_correlation"]), {one["key"] for one in answer["inputs"]})
            self.assertTrue(all(value is None or -1 <= value <= 1 for value in limit["rank_correlation"].values()))
            if limit["caution"]["runs"] == 0:
                self.assertIsNone(limit["first_breach_d"]["q50"])
        fan = self.rows("spread.csv")
        intervals = answer["fan"]["intervals"]
        self.assertEqual(intervals, 72)  # three days by the hour
        self.assertEqual(len(fan), intervals * len(answer["fan"]["quantities"]))
        for row in fan:
            shares = [float(row[name]) for name in ("q05", "q25", "q50", "q75", "q95")]
            self.assertEqual(shares, sorted(shares))
            self.assertTrue(0 < float(row["t_d"]) < 3)

    def test_what_some_runs_reach_is_said_with_the_verdict(self):
        """Within limits, or caution, though some runs come into danger: 1 of 300."""
        file = self.write(SMALL + "spread:\n  temperature: {uniform: [18 degC, 22 degC]}\n", "calm.yaml")
        self.done(file=file)
        oxygen = next(one for one in self.json()["limits"] if one["name"] == "oxygen")["worst"]
        self.assertLess(oxygen["q05"], oxygen["q25"])
        edge = oxygen["q05"] - (oxygen["q25"] - oxygen["q05"]) / 5  # about 1 of 100
        process = self.done("--set", f"limits.oxygen={{caution: {edge + 1e-6:.8g} mg/L, danger: {edge:.8g} mg/L}}",
                            file=file, out="edge")
        danger = self.json("edge")["chance"]["danger"]
        self.assertTrue(0 < danger["runs"] < 10, danger)
        self.assertRegex(" ".join(process.stdout.split()), r"^Verdict: (within limits|caution), but danger in [\d.]+ of "
                                                           r"100 runs\. Within limits in ")

    def test_what_is_the_same_in_all_runs_is_exact(self):
        self.done("--set", "source water.chloride=5 mg/L")
        worst = {limit["name"]: limit["worst"] for limit in self.json()["limits"]}
        for name, value in (("chlorine", 0), ("chloride", 5), ("temperature change in an hour", 0),
                            ("temperature change in a day", 0)):
            self.assertEqual(set(worst[name].values()), {value}, name)

    def test_set_replaces_an_input_of_the_file(self):
        text = SMALL + "spread:\n  pump.flow: {uniform: [700 gal/h, 900 gal/h]}\n" \
                       "  feeding.appetite: {lognormal: {median: 1, factor: 1.3}}\n"
        file = self.write(text, "own.yaml")
        self.done("--set", "spread.feeding.appetite.lognormal.factor=1.05", "--set",
                  "spread.pump.flow={uniform: [300 gal/h, 400 gal/h]}", file=file, runs=20)
        flow, appetite = self.json()["inputs"]
        self.assertEqual((appetite["factor"], flow["key"]), (1.05, "pump.flow"))
        self.assertAlmostEqual(flow["greatest"] / flow["least"], 4 / 3)
        process = self.done("--set", "spread=3", runs=20, status=2, out="none")
        self.assertIn("spread: this is a single value; expected keys with their distributions", process.stderr)

    def test_drivers_are_named_by_words_and_key(self):
        text = " ".join(self.done("--set", "fish[0].count=60").stdout.split())
        self.assertRegex(text, r"how fast ammonia-eating bacteria grow \(mu_aob\) -0\.\d\d")
        words = {one["key"]: one["words"] for one in self.json()["inputs"]}
        self.assertEqual(words["parameters.mu_aob"], "how fast ammonia-eating bacteria grow")
        self.assertTrue(all(" " in one and one != key for key, one in words.items()), words)

    def test_the_middle_run_is_near_the_plain_one(self):
        """With next to nothing uncertain all runs are the plain run."""
        text = SMALL + "spread:\n  parameters.mu_aob: {uniform: [0.8999999 1/d, 0.9000001 1/d]}\n"
        file = self.write(text, "narrow.yaml")
        self.done(file=file, runs=20)
        plain = self.folder / "plain"
        process = towerloop("run", file, "--set", "parameters.mu_aob=0.9 1/d", "--out", plain, "--no-charts")
        self.assertEqual(process.returncode, 0, process.stderr)
        summary = {limit["name"]: limit for limit in json.loads((plain / "summary.json").read_text())["limits"]}
        self.assertGreater(len(summary), 10)
        for limit in self.json()["limits"]:
            one = summary[limit["name"]]
            if one["worst"] is None or one["worst"] < 1e-5:
                continue
            half = limit["bin_width"] / 2 * (1 if limit["unit"] in ("", "degC") else one["worst"])
            self.assertAlmostEqual(limit["worst"]["q50"], one["worst"], delta=half * 1.01 + 1e-4 * one["worst"],
                                   msg=limit["name"])
            self.assertIn(limit["danger"]["runs"], (0, 20), limit["name"])
            self.assertEqual(limit["danger"]["runs"] == 20, one["verdict"] == "danger", limit["name"])

    def test_more_runs_take_no_more_memory(self):
        # a build with the address sanitizer would keep what is freed
        at_once = ":".join(filter(None, [os.environ.get("ASAN_OPTIONS"), "quarantine_size_mb=0"]))

        def peak(runs):
            out = self.folder / f"peak-{runs}"
            process = subprocess.Popen([str(PROGRAM), "spread", str(self.file), "--runs", str(runs), "--threads", "1",
                                        "--quiet", "--no-charts", "--out", str(out)],
                                       stdin=subprocess.DEVNULL, env=environment(ASAN_OPTIONS=at_once))
            _, status, usage = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
            self.assertEqual(process.returncode, 0)
            return usage.ru_maxrss
        few, many = peak(1024), peak(8192)
        self.assertLess(many, few + 2048, "KiB")

    def test_runs_that_cannot_be_count_as_danger(self):
        """A tank smaller than its chamber is no scenario; the other runs are counted as they are."""
        file = self.write(SMALL + "spread:\n  tank.volume: {uniform: [0.2 m3, 1 m3]}\n", "narrow.yaml")
        process = self.done(file=file, runs=128)
        answer = self.json()
        few = answer["not_known"]
        self.assertTrue(32 <= few <= 64, few)  # below 0.5 m3: three of eight
        self.assertEqual(answer["impossible"], few)
        self.assertGreaterEqual(answer["chance"]["danger"]["runs"], few)
        for limit in answer["limits"]:
            self.assertEqual((limit["judged"], limit["danger"]["of"]), (128 - few, 128))
            self.assertGreaterEqual(limit["danger"]["runs"], few)
        self.assertIn(f"{few} runs could not be calculated because their values cannot stand together; "
                      "to be on the safe side they count as danger.", " ".join(process.stdout.split()))

    def test_says_what_makes_caution_without_a_limit(self):
        cold = self.write(SMALL.replace("temperature: 20 degC", "temperature: 12 degC"), "cold.yaml")
        process = self.done("--set", "spread.temperature={uniform: [11 degC, 13 degC]}", runs=100, file=cold)
        self.assertIn("outside the range it was published for in all 100 runs", " ".join(process.stdout.split()))
        self.assertIn("temperature (oxygen use of fish)", " ".join(process.stdout.split()))
        besides = self.json()["besides_limits"]
        self.assertEqual(besides["outside_published_range"]["runs"], 100)
        self.assertIn({"what": "temperature", "used_for": "oxygen use of fish", "runs": 100}, besides["ranges"])
        self.assertEqual((besides["ice"]["runs"], besides["medicine_not_judged"]), (0, False))

    def test_a_setting_of_what_varies_is_refused(self):
        own = ("--set", "spread.pump.flow={uniform: [700 gal/h, 900 gal/h]}")
        process = self.done(*own, "--set", "pump.flow=100 gal/h", runs=64, status=2)
        self.assertIn("--set pump.flow=100 gal/h: the spread takes values of its own", process.stderr)
        self.assertFalse((self.folder / "all").exists())
        self.assertNotIn("warning", self.done(*own, runs=64).stderr)
        for edge in ("{triangular: [800 gal/h, 800 gal/h, 900 gal/h]}", "{uniform: [800 gal/h, 900 gal/h]}"):
            process = self.done("--set", f"spread.pump.flow={edge}", runs=10, out=edge[1:4])
            self.assertNotIn("warning", process.stderr) # an end of a range belongs to it
        process = self.done("--set", "spread.pump.flow={uniform: [900 gal/h, 1000 gal/h]}", runs=64, out="off")
        self.assertIn("pump.flow: the scenario's own value lies outside", process.stderr)

    def test_json_on_the_terminal_is_the_file(self):
        process = self.done("--json", runs=20)
        self.assertEqual(process.stdout, (self.folder / "all" / "spread.json").read_text(encoding="utf-8"))

    def test_the_fail_level_goes_by_the_verdict(self):
        lax = ["--set", "fish[0].count=1", "--set", "feeding.ration=0.1 %/d", "--set", "limits.pH swing.danger=3"]
        process = self.done(*lax, "--fail-on", "danger", runs=10, status=3)
        self.assertEqual(self.json()["chance"]["danger"]["runs"], 0)  # but too few to be sure
        self.assertEqual(self.json()["verdict"], "danger")
        self.assertRegex(" ".join(process.stdout.split()),
                         r"^Verdict: danger, but so few runs can show no better; it takes 59\. Within limits in none of 10 runs ")
        process = self.done(*lax, "--fail-on", "danger", out="lax", runs=200, status=0)
        self.assertEqual(self.json("lax")["verdict"], "caution", process.stdout)
        self.assertNotIn("so few runs", process.stdout)
        self.done(*lax, "--fail-on", "caution", out="lax", runs=200, status=3)


class Shards(Spread):
    def test_all_ways_give_the_same_files(self):
        self.done("--threads", 1)
        whole = self.files("all")
        for parts, threads in ((1, 2), (3, 1), (7, 3)):
            names = []
            for i in range(1, parts + 1):
                names.append(f"part-{i}-of-{parts}")
                self.done("--shard", f"{i}/{parts}", "--threads", threads, out=names[-1])
            blocks = {}
            for name in names:
                blocks.update(self.blocks(name))
            self.assertEqual(blocks, self.blocks("all"))
            process = self.merge(*reversed(names), out=f"merged-{parts}")
            self.assertEqual(self.files(f"merged-{parts}"), whole, parts)
            self.assertIn("Verdict: ", process.stdout)

    def test_a_merge_spares_its_parts(self):
        self.done("--shard", "1/2", out="p1")
        self.done("--shard", "2/2", out="p2")
        before = self.blocks("p1")
        for place in ("p1", "p1/below", "."):
            process = self.merge("p1", "p2", out=place, status=2, more=["--force"])
            self.assertIn("expected a folder of its own", process.stderr)
        self.assertEqual(self.blocks("p1"), before)
        self.merge("p1", "p2")

    def test_a_shard_says_which_it_is(self):
        process = self.done("--shard", "2/3", out="part")
        self.assertIn("Part 2 of 3 is done.", process.stdout)
        self.assertEqual(sorted(self.blocks("part")), ["000001.block", "000004.block"])
        self.assertFalse((self.folder / "part" / "spread.json").exists())
        process = self.done("--shard", "2/3", "--json", out="part")
        self.assertEqual(json.loads(process.stdout), {"shard": 2, "shards": 3, "complete": True})
        study = json.loads((self.folder / "part" / "study.json").read_text(encoding="utf-8"))
        self.assertEqual((study["question"]["shard"], study["question"]["shards"], study["complete"]), (2, 3, True))

    def test_a_block_is_the_same_among_more_runs(self):
        self.done(runs=128)
        self.done(runs=200, out="more")
        head = len("tlblock2") + 8  # then the number of the study differs
        few, many = self.blocks("all"), self.blocks("more")
        for name, block in few.items():
            self.assertEqual(block[head:-8], many[name][head:-8])

    def test_what_a_scenario_names_goes_along(self):
        (self.folder / "water.csv").write_text("time_d,temperature_degC\n0,18\n1.5,22\n3,19\n", encoding="utf-8")
        file = self.write(SMALL.replace("temperature: 20 degC", "temperature: {file: water.csv}"), "logged.yaml")
        self.done(file=file, runs=70)
        for i in (1, 2):
            self.done("--shard", f"{i}/2", out=f"part-{i}", file=file, runs=70)
        (self.folder / "water.csv").unlink()
        self.merge("part-1", "part-2")
        self.assertEqual(self.files("merged"), self.files("all"))
        self.assertIn("inputs/water.csv", self.files("merged"))


class Sensitivity(Spread):
    OWN = ("spread:\n  feeding.appetite: {uniform: [0.6, 1.4]}\n  source water.alkalinity: "
           "{uniform: [100 mg/L as CaCO3, 101 mg/L as CaCO3]}\n  parameters.mu_aob: {uniform: [0.7 1/d, 0.8 1/d]}\n")

    def setUp(self):
        super().setUp()
        self.own = self.write(SMALL + self.OWN, "own.yaml")

    def limit(self, name, out="all"):
        return next(limit for limit in self.json(out)["limits"] if limit["name"] == name)

    def test_few_runs_print_no_shares(self):
        for runs, told in ((20, False), (400, True)):
            text = " ".join(self.done("--sensitivity", runs=runs, out=f"few-{runs}").stdout.split())
            shares = text[text.index("Share of the variance"):]
            self.assertEqual(bool(re.search(r"\d+ % \(\d+ %\)", shares)), told, shares)
            self.assertEqual(bool(re.search(r"so few runs cannot tell; about \d+ would", shares)), not told, shares)

    def test_names_what_counts(self):
        process = self.done("--sensitivity", file=self.own, runs=256)
        found = self.limit("un-ionised ammonia")["sensitivity"]
        self.assertTrue(found["known"])
        self.assertEqual((found["base_points"], found["missed"]), (256, 0))
        self.assertGreater(found["standard_deviation"], 0)
        index = found["indices"]
        self.assertEqual(set(index), {one["key"] for one in self.json()["inputs"]})
        self.assertGreater(index["feeding.appetite"]["total"], 0.9)  # by far the widest
        self.assertLess(index["parameters.mu_aob"]["total"], 0.1)
        for one in index.values():
            self.assertLess(abs(one["first_order"] - one["total"]), 0.2)
            self.assertTrue(0 <= one["total_error"] < 0.2)
        if "un-ionised ammonia" in process.stdout.split("Share of the variance")[-1]:
            self.assertIn("feeding.appetite", process.stdout.split("Share of the variance")[-1])

    def test_leaves_everything_else_as_it_is(self):
        self.done("--sensitivity", file=self.own, runs=70)
        self.done(file=self.own, out="plain", runs=70)
        for name in ("spread.csv", "chances.csv"):
            self.assertEqual(self.files("all")[name], self.files("plain")[name], name)
        with_it, plain = self.json(), self.json("plain")
        self.assertNotIn("sensitivity", plain["limits"][0])
        for limit in with_it["limits"]:
            del limit["sensitivity"]
        self.assertEqual(with_it, plain)

    def test_parts_give_the_same(self):
        self.done("--sensitivity", "--threads", 1, file=self.own, runs=200)
        for i in (1, 2, 3):
            self.done("--sensitivity", "--shard", f"{i}/3", "--threads", i, out=f"part-{i}", file=self.own, runs=200)
        self.merge("part-2", "part-3", "part-1")
        self.assertEqual(self.files("merged"), self.files("all"))
        self.done("--shard", "3/3", out="plain-3", file=self.own, runs=200)
        process = self.merge("part-1", "part-2", "plain-3", out="none", status=2)
        self.assertIn("differ in --sensitivity", process.stderr)

    def test_says_how_many_inputs_it_takes(self):
        keys = [f"fish[{i}].mean mass: {{uniform: [90 g, 110 g]}}" for i in range(21)]
        fish = ", ".join(f"{{name: koi {i}, count: 5, mean mass: 100 g}}" for i in range(21))
        lines = [f"fish: [{fish}]" if line.startswith("fish:") else line for line in SMALL.splitlines()]
        many = self.write("\n".join(lines) + "\nspread:\n  " + "\n  ".join(keys) + "\n", "many.yaml")
        process = self.done("--sensitivity", file=many, status=2)
        self.assertIn("20 uncertain inputs at most, and there are 21", process.stderr)
        self.assertFalse((self.folder / "all").exists())


class Charts(Spread):
    FANS = ["spread_ammonia", "spread_nitrite", "spread_oxygen", "spread_ph", "spread_temperature",
            "spread_unionised_ammonia"]

    def names(self, out):
        return sorted(path.name for path in (self.folder / out / "charts").iterdir())

    def draw(self, *args, out, status=0):
        process = towerloop(*args, "--out", self.folder / out)
        self.assertEqual(process.returncode, status, process.stderr)
        return process

    def test_fans_and_what_drives_the_risk(self):
        self.draw("spread", self.file, "--runs", 70, out="all")
        names = sorted(self.FANS + ["drivers"])
        self.assertEqual(self.names("all"), [f"{name}.{end}" for name in names for end in ("png", "svg")])
        for i in (1, 2):
            self.draw("spread", self.file, "--runs", 70, "--shard", f"{i}/2", out=f"part-{i}")
            self.assertFalse((self.folder / f"part-{i}" / "charts").exists())
        self.draw("merge", self.folder / "part-1", self.folder / "part-2", out="merged")
        self.assertEqual(self.files("merged"), self.files("all"))

    def test_drawn_again(self):
        self.draw("spread", self.file, "--runs", 70, out="all")
        charts = {path.name: path.read_bytes() for path in (self.folder / "all" / "charts").iterdir()}
        self.draw("chart", self.folder / "all", out="again")
        self.assertEqual({path.name: path.read_bytes() for path in (self.folder / "again").iterdir()}, charts)
        self.draw("chart", self.folder / "all", "--format", "svg", "--units", "us", "--force", out="again")
        us = (self.folder / "again" / "spread_temperature.svg").read_text(encoding="utf-8")
        self.assertIn("degF", us)
        process = towerloop("chart", self.folder / "all", "--out", self.folder / "again")
        self.assertEqual(process.returncode, 1)
        self.assertIn("is there already; --force replaces it", process.stderr)
        process = towerloop("chart", self.folder / "all", "--day", 2)
        self.assertEqual(process.returncode, 2)
        self.assertIn("--day: a spread has no chart of a day", process.stderr)
        shutil.rmtree(self.folder / "all" / "blocks")
        process = towerloop("chart", self.folder / "all")
        self.assertEqual(process.returncode, 2)
        self.assertIn("holds no runs to draw from; expected the folder of towerloop spread", process.stderr)
        self.assertEqual({path.name: path.read_bytes() for path in (self.folder / "all" / "charts").iterdir()}, charts)

    def test_sensitivity_has_a_chart_of_its_own(self):
        self.draw("spread", self.file, "--runs", 200, "--sensitivity", out="all")
        self.assertIn("sensitivity.svg", self.names("all"))
        svg = (self.folder / "all" / "charts" / "sensitivity.svg").read_text(encoding="utf-8")
        self.assertIn("share of the variance", svg)


class Told(Spread):
    def run_it(self, *args, out="run", status=0):
        process = towerloop("run", self.file, "--no-charts", "--out", self.folder / out, *args)
        self.assertEqual(process.returncode, status, process.stderr)
        return process

    def summary(self, out="run"):
        return json.loads((self.folder / out / "summary.json").read_text(encoding="utf-8"))

    def page(self, out):
        return (self.folder / out / "report.html").read_text(encoding="utf-8").replace("&#39;", "'")

    def test_in_how_many_runs_a_new_filter_is_not_ready(self):
        much = ("--set", "tower.biofilm=new", "--set", "tank.volume=200 m3", "--set", "length=15 d")
        said = " ".join(self.done(*much, runs=64, out="much").stdout.split())
        self.assertRegex(said, r"The new filter is not shown to be ready by the end in all 64 runs \(90 % sure: at least \S+ of "
                               r"100\): ammonia and nitrite can still rise after it\. Make the run longer: a new filter takes weeks\.")
        said = self.done("--set", "length=15 d", runs=64, out="mature").stdout
        self.assertNotIn("The new filter", said)

    def test_a_run_says_how_sure_its_verdict_is(self):
        self.done(runs=100)
        chance = self.json()["chance"]
        plain = self.run_it("--report", out="plain")
        self.assertNotIn("chance", self.summary("plain"))
        self.assertNotIn("of 100 runs", plain.stdout)
        process = self.run_it("--spread", self.folder / "all", "--report")
        told = self.summary()["chance"]
        for name in ("within_limits", "danger"):
            for key in ("runs", "of"):
                self.assertEqual(told[name][key], chance[name][key])
            self.assertIn(told[name]["text"], " ".join(process.stdout.split()))
            self.assertIn(told[name]["text"], self.page("run"))
        self.assertEqual(told["own_verdict"], self.summary("plain")["verdict"])
        self.assertNotIn("default parameters", process.stdout)
        # the page of a run that did not know of it
        self.assertNotIn(told["danger"]["text"], self.page("plain"))
        done = towerloop("report", self.folder / "plain", "--no-charts", "--spread", self.folder / "all")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn(told["danger"]["text"], self.page("plain"))

    def test_the_worse_verdict_holds(self):
        self.done(runs=10)  # too few to rule out danger
        self.assertEqual(self.json()["verdict"], "danger")
        plain = self.run_it(out="plain")
        own = self.summary("plain")["verdict"]
        self.assertNotEqual(own, "danger", plain.stdout)
        process = self.run_it("--spread", self.folder / "all", "--fail-on", "danger", status=3)
        self.assertEqual(self.summary()["verdict"], "danger")
        self.assertEqual(self.summary()["chance"]["own_verdict"], own)
        self.assertIn(f"Verdict: danger ({own} with the scenario's own values), but so few runs can show no better; it "
                      "takes 59. Within limits in ", " ".join(process.stdout.split()))
        towerloop("report", self.folder / "plain", "--no-charts", "--spread", self.folder / "all")
        self.assertRegex(self.page("plain"), r"Verdict: <span[^>]*>danger<")

    def test_only_of_the_same_scenario(self):
        self.done(runs=10)
        process = self.run_it("--spread", self.folder / "all", "--set", "tower.trays=9", status=2)
        self.assertRegex(process.stderr, r"all is a spread of another scenario; .*there 'trays: \d+', here 'trays: 9'")
        process = self.run_it("--spread", self.folder / "nothing", status=2)
        self.assertIn("nothing holds no finished spread; expected the folder", process.stderr)
        self.done("--shard", "1/2", out="part", runs=100)
        process = self.run_it("--spread", self.folder / "part", status=2)
        self.assertIn("part holds no finished spread", process.stderr)
        path = self.folder / "all" / "spread.json"
        found = json.loads(path.read_text(encoding="utf-8"))
        found["build"]["commit"] = "0000000"
        path.write_text(json.dumps(found), encoding="utf-8")
        process = self.run_it("--spread", self.folder / "all", status=2)
        self.assertIn("by another version of towerloop, 0000000", process.stderr)
        self.assertFalse((self.folder / "run").exists())


class Page(Spread):
    def report(self, *args, status=0):
        process = towerloop("report", self.folder / "all", *args)
        self.assertEqual(process.returncode, status, process.stderr)
        return process

    def page(self, out="all"):
        return (self.folder / out / "report.html").read_text(encoding="utf-8").replace("&#39;", "'")

    def test_holds_what_was_found(self):
        process = towerloop("spread", self.file, "--runs", 70, "--out", self.folder / "all")
        self.assertEqual(process.returncode, 0, process.stderr)
        self.report()
        page, answer = self.page(), self.json()
        first = " ".join(process.stdout.split("\n\n")[0].split())
        chances = re.search(r"Within limits in .*? runs \(.*?\)\. Danger in .*? runs? \(.*?\)\.", first).group()
        self.assertIn(chances, page)
        for one in answer["inputs"]:
            self.assertIn(f"<code>{one['key']}</code>", page)
        charts = sorted((self.folder / "all" / "charts").glob("*.svg"))
        self.assertEqual(len(charts), 7)
        self.assertEqual(page.count("<svg"), len(charts))
        self.assertNotIn("<script", page)
        self.assertNotIn("not drawn", page)
        before = page
        self.report()  # its own page is replaced, and the same again
        self.assertEqual(self.page(), before)
        self.done("--force", runs=20)  # a spread knows the page as one of its files
        self.assertFalse((self.folder / "all" / "report.html").exists())

    def test_without_charts(self):
        self.done(runs=20)
        self.report("--units", "us", "--out", self.folder / "page")
        self.assertIn("The spread was made without charts.", self.page("page"))
        self.assertIn("degF", self.page("page"))

    def test_only_of_a_whole_spread(self):
        self.done("--shard", "1/2", runs=70)
        process = self.report(status=2)
        self.assertIn("expected the folder of a run, a comparison or a spread", process.stderr)
        self.done(runs=20, out="other")
        process = towerloop("report", self.folder / "other", "--spread", self.folder / "other")
        self.assertEqual(process.returncode, 2)
        self.assertIn("--spread: expected the folder of a run", process.stderr)


class Elsewhere(Spread):
    """What the guide says of other machines, as it stands there but for fewer runs."""

    def setUp(self):
        super().setUp()
        self.write(SMALL, "pond.yaml")
        bin_folder = self.folder / "bin"
        bin_folder.mkdir()
        (bin_folder / "towerloop").symlink_to(PROGRAM)
        self.path = f"{bin_folder}:{os.environ['PATH']}"
        self.done("--threads", 1, file=self.folder / "pond.yaml")

    def block(self, word):
        guide = (ROOT / "src/doc/guide.md").read_text(encoding="utf-8")
        blocks = [text for text in re.findall(r"```sh\n(.*?)```", guide, re.DOTALL) if word in text]
        self.assertEqual(len(blocks), 1, word)
        text, changed = re.subn(r"--runs \d+", f"--runs {RUNS}", blocks[0])
        self.assertEqual(changed, 1)
        return text

    def shell(self, text, **variables):
        process = subprocess.run(["sh", "-euc", text], cwd=self.folder, env=environment(PATH=self.path, **variables),
                                 text=True, capture_output=True, stdin=subprocess.DEVNULL, timeout=300)
        self.assertEqual(process.returncode, 0, process.stderr)

    @unittest.skipUnless(shutil.which("parallel"), "GNU parallel is not installed")
    def test_gnu_parallel(self):
        self.shell(self.block("parallel ").replace("towerloop merge", "towerloop merge --no-charts"))
        self.assertEqual(self.files("out/pond-spread"), self.files("all"))

    def test_job_array(self):
        text = self.block("#SBATCH")
        first, last = map(int, re.search(r"#SBATCH --array=(\d+)-(\d+)\n", text).groups())
        self.assertEqual(first, 1)
        for count in (last, 1):  # all of them; then some again, one by one
            for task in range(first, last + 1) if count > 1 else (2, last):
                self.shell(text, SLURM_ARRAY_TASK_ID=str(task), SLURM_ARRAY_TASK_COUNT=str(count),
                           SLURM_CPUS_PER_TASK="1")
        self.merge(*(f"part-{task}" for task in range(first, last + 1)))
        self.assertEqual(self.files("merged"), self.files("all"))


class GoOn(Spread):
    def start(self, *args):
        return subprocess.Popen([str(PROGRAM), "spread", str(self.file), *map(str, args)], stdin=subprocess.DEVNULL,
                                stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment())

    def stop_midway(self, how, runs):
        """Stop it once some blocks are there; whether it was still at work."""
        process = self.start("--runs", runs, "--threads", 1, "--out", self.folder / "all", "--set", "length=10 d",
                             "--no-charts")
        blocks = self.folder / "all" / "blocks"
        while process.poll() is None and not (blocks.is_dir() and len(list(blocks.glob("*.block"))) >= 2):
            time.sleep(0.002)
        process.send_signal(how)
        message = process.communicate(timeout=60)[1].decode()
        self.assertEqual(process.returncode, 130 if how == signal.SIGINT else -how, message)
        self.assertFalse((self.folder / "all" / "spread.json").exists())
        return message

    def check_going_on(self, runs):
        early = {path.name: (path.stat().st_ino, path.stat().st_mtime_ns)
                 for path in (self.folder / "all" / "blocks").glob("*.block")}
        self.assertGreaterEqual(len(early), 2)
        self.assertLess(len(early), runs // 64)
        self.done("--set", "length=10 d", runs=runs)
        for name, was in early.items():
            path = self.folder / "all" / "blocks" / name
            self.assertEqual((path.stat().st_ino, path.stat().st_mtime_ns), was, "a whole block was run again")
        self.done("--set", "length=10 d", runs=runs, out="fresh")
        self.assertEqual(self.files("all"), self.files("fresh"))
        self.assertEqual({name: data for name, data in self.blocks("all").items() if name.endswith(".block")},
                         self.blocks("fresh"))

    def test_killed_it_goes_on(self):
        self.stop_midway(signal.SIGKILL, 1280)
        self.check_going_on(1280)

    def test_interrupted_it_goes_on(self):
        message = self.stop_midway(signal.SIGINT, 1280)
        self.assertIn("interrupted; the same command goes on where it was", message)
        self.check_going_on(1280)

    def test_a_spoilt_block_is_run_again(self):
        self.done()
        files, blocks = self.files("all"), self.blocks("all")
        folder = self.folder / "all" / "blocks"
        data = bytearray(blocks["000002.block"])
        data[len(data) // 2] ^= 1
        (folder / "000002.block").write_bytes(data)
        (folder / "000003.block").write_bytes(blocks["000003.block"][:1000])
        (folder / "000004.block.partial").write_bytes(b"tlblock2")
        self.done()
        self.assertEqual(self.files("all"), files)
        after = self.blocks("all")
        for name, block in blocks.items():
            self.assertEqual(after[name], block)

    def test_two_at_a_time_in_one_folder(self):
        """The second is refused, with --force as well, and the first is none the worse for it; a dead one is in
        nobody's way."""
        process = self.start("--runs", 1280, "--threads", 1, "--out", self.folder / "all", "--set", "length=10 d",
                             "--no-charts")
        blocks = self.folder / "all" / "blocks"
        while process.poll() is None and not (blocks.is_dir() and list(blocks.glob("*.block"))):
            time.sleep(0.002)
        for more in ((), ("--force",)):
            second = self.done("--set", "length=10 d", *more, runs=1280, status=1)
            self.assertIn("another towerloop is at work in ", second.stderr)
            self.assertIn("wait for it, or choose another folder with --out", second.stderr)
        self.assertIsNone(process.poll(), "it was done too soon to tell")
        process.kill()
        process.communicate(timeout=60)
        self.done("--set", "length=10 d", runs=1280)
        self.done("--set", "length=10 d", runs=1280, out="fresh")
        self.assertEqual(self.files("all"), self.files("fresh"))

    def test_another_question_is_refused_until_forced(self):
        self.done(runs=70)
        process = self.done("--seed", 2, runs=70, status=1)
        self.assertIn("answers another question", process.stderr)
        (self.folder / "all" / "blocks" / "000001.block.partial").write_bytes(b"tl")
        self.done("--seed", 2, "--force", runs=70)
        self.assertEqual(self.json()["seed"], "2")
        self.assertEqual(len(self.blocks("all")), 2)
        (self.folder / "all" / "blocks" / "mine.txt").write_text("mine", encoding="utf-8")
        process = self.done("--seed", 3, "--force", runs=70, status=1)
        self.assertIn("mine.txt, which is not towerloop's", process.stderr)


class Refusals(Spread):
    def setUp(self):
        super().setUp()
        self.done("--shard", "1/2", out="one", runs=200)
        self.done("--shard", "2/2", out="two", runs=200)

    def refused(self, *folders, more=()):
        process = self.merge(*folders, status=2, more=more)
        self.assertEqual(process.stdout, "")
        self.assertFalse((self.folder / "merged").exists())
        self.assertEqual(process.stderr.count("\n"), 1, process.stderr)
        return process.stderr.replace(str(self.folder) + "/", "")

    def test_others_are_named_with_what_differs(self):
        for name, args, runs, words in (
                ("runs", (), 210, "differ in --runs: 200 and 210"),
                ("seed", ("--seed", 7), 200, "differ in --seed: 1 and 7"),
                ("set", ("--set", "tank.volume=7 m3"), 200, "differ in the scenario"),
                ("level", ("--level", "scalar"), 200, "differ in --level: ")):
            self.done("--shard", "2/2", *args, out=name, runs=runs)
            message = self.refused("one", name)
            self.assertIn(f"one and {name} {words}", message)
        self.done("--shard", "2/3", out="third", runs=200)
        self.assertIn("one and third differ in the number of parts: 2 and 3", self.refused("one", "third"))
        self.done(out="whole", runs=200)
        self.assertIn("one and whole differ in the number of parts", self.refused("one", "whole"))

    def test_another_build_is_refused(self):
        path = self.folder / "two" / "study.json"
        for name, words in (("commit", "the version of towerloop"), ("dispatch", "the kind of processor"),
                            ("compiler", "the compiler of towerloop"), ("gsl", "the version of GSL")):
            study = json.loads(path.read_text(encoding="utf-8"))
            kept = study["build"][name]
            study["build"][name] = "other"
            path.write_text(json.dumps(study), encoding="utf-8")
            self.assertIn(f"one and two differ in {words}: ", self.refused("one", "two"))
            study["build"][name] = kept
            path.write_text(json.dumps(study), encoding="utf-8")
        self.merge("one", "two")

    def test_each_part_once(self):
        self.assertIn("one is part 1 of 2, and 1 folder was given; expected all 2, each once", self.refused("one"))
        self.assertIn("one is part 1 of 2, which was given already", self.refused("one", "one"))
        self.assertIn("and 3 folders were given", self.refused("one", "two", "one"))

    def test_each_block_once(self):
        block = self.folder / "two" / "blocks" / "000001.block"
        data = block.read_bytes()
        block.unlink()
        self.assertIn("two/blocks/000001.block is missing or damaged", self.refused("one", "two"))
        block.write_bytes(data[:-1])
        self.assertIn("two/blocks/000001.block is missing or damaged", self.refused("one", "two"))
        block.write_bytes(data)
        stray = self.folder / "one" / "blocks" / "000001.block"
        stray.write_bytes(data)
        self.assertIn("one holds 000001.block, which is none of part 1 of 2", self.refused("one", "two"))
        stray.unlink()
        self.merge("one", "two")

    def test_nothing_waits_at_a_pipe(self):
        """A pipe in the place of a file is no file: nothing waits for somebody to write into it."""
        block = self.folder / "two" / "blocks" / "000001.block"
        data = block.read_bytes()
        block.unlink()
        os.mkfifo(block)
        self.assertIn("two/blocks/000001.block is missing or damaged", self.refused("one", "two"))
        block.unlink()
        block.write_bytes(data)
        study = self.folder / "two" / "study.json"
        study.unlink()
        os.mkfifo(study)
        self.assertIn("two is no folder of towerloop spread", self.refused("one", "two"))

    def test_what_is_not_finished_or_changed(self):
        path = self.folder / "two" / "study.json"
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace('"complete": true', '"complete": false'), encoding="utf-8")
        self.assertIn("two is not finished", self.refused("one", "two"))
        path.write_text(text, encoding="utf-8")
        scenario = self.folder / "one" / "scenario.yaml"
        kept = scenario.read_text(encoding="utf-8")
        scenario.write_text(re.sub(r"volume: [\d.]+", "volume: 8", kept, count=1), encoding="utf-8")
        self.assertIn("one: scenario.yaml, or what it names, is not what was run", self.refused("one", "two"))
        scenario.write_text(kept, encoding="utf-8")
        self.assertIn("no folder of towerloop spread", self.refused("one", "nowhere"))
        self.done("--shard", "1/1", out="whole", runs=200)
        self.merge("whole", out="joined")
        message = self.refused("joined")
        self.assertIn("joined holds no runs; expected the folder of a part", message)
        self.assertIn("what towerloop merge made has the results alone", message)
        process = towerloop("merge", self.folder / "one", self.folder / "two")
        self.assertEqual(process.returncode, 2)
        self.assertIn("merge needs --out DIR", process.stderr)

    def test_options(self):
        for args, words in ((("--runs", "9"), "a whole number from 10 to 1000000"),
                            (("--runs", "1e3"), "a whole number from 10 to 1000000"),
                            (("--runs", "-20"), "a whole number from 10 to 1000000"),
                            (("--seed", "x"), "a whole number from 0 on"),
                            (("--shard", "0/2"), "a part and the number of parts, as 2/7"),
                            (("--shard", "3/2"), "a part and the number of parts, as 2/7"),
                            (("--shard", "1"), "a part and the number of parts, as 2/7"),
                            (("--inputs", "all"), "own or published"),
                            (("--level", "fast"), "scalar, baseline, avx2 or avx512")):
            process = towerloop("spread", self.file, *args, "--out", self.folder / "none")
            self.assertEqual(process.returncode, 2, args)
            self.assertIn(f"{args[0]}: '{args[1]}' will not do; expected {words}", process.stderr)
            self.assertFalse((self.folder / "none").exists())

    def test_a_faulty_scenario(self):
        file = self.write(SMALL.replace("trays: 8", "trays: none"), "bad.yaml")
        process = towerloop("spread", file, "--out", self.folder / "none")
        self.assertEqual(process.returncode, 2)
        self.assertRegex(process.stderr, r"bad\.yaml:\d+:\d+: tower\.trays: ")
        self.assertFalse((self.folder / "none").exists())


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
