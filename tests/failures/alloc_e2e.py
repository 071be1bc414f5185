#!/usr/bin/env python3
"""Memory runs out, once, at every place of the program that asks for some.

Usage: alloc_e2e.py PROGRAM SHIM CASE [EVERY]

SHIM (fail_alloc.c) is loaded before the C library. A first run of the case lists the sites at which
the program asks for memory; then the case is run once a site (every EVERY-th only) with the first
request there refused. Each time the command does one of two things:

- it comes to the same end, exit status, standard output, messages and files alike, or
- it ends with exit status 1 and a message about memory, and leaves nothing behind. The folder of a study
  may stay, to be gone on with: then the same command, without a failure, ends in the same files. And a
  run that is whole stays without its report: `towerloop report` makes one of it.
"""
import concurrent.futures
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
import stand_in  # noqa: E402

DAY = """\
format: 1
title: One day
start: 2027-06-01
length: 1 d
report every: 1 h
temperature: 20 degC
tank: {volume: 6 m3, surface: 6 m2, wetted walls: 18 m2}
settling chamber: {volume: 500 L, surface: 0.8 m2, wetted walls: 3 m2}
pump: {flow: 3 m3/h, to tower: 100 %}
tower: {trays: 2, media depth: 3 in, plan area: 0.2 m2, media: lava rock, biofilm: mature}
aerator: {oxygen transfer: 6 g/h}
source water: {alkalinity: 80 mg/L as CaCO3, pH: 8.1, nitrate: 2 mg/L as N, chloride: 20 mg/L}
water change: {trickle: 20 %/d}
fish: [{name: koi, count: 12, mean mass: 500 g}]
feeding: {ration: 0.4 %/d, protein: 38 %, meals: ["08:00", "12:00", "17:00"]}
"""
BAD = DAY.replace("tank: {", "tank: {foo: 1, ").replace("3 m3/h", "3 fish/h")
READINGS = """\
time_iso,place,quantity,value,unit,error,method,note
2027-06-01T08:00:00,tank,total ammonia,0.05,mg/L as N,,,
2027-06-01T17:00:00,tank,total ammonia,0.06,mg/L as N,,,
2027-06-01T17:00:00,tank,pH,8.0,,,,
"""
PUMP_OFF = "events=[{at: day 0 12:00, pump: off, for: 2 h}]"
SAMPLE = ["temperature=75 degF", "pH=8.4", "ammonia=2 mg/L as N", "nitrite=1 mg/L as N",
          "alkalinity=120 mg/L as CaCO3", "--fix", "volume=10 m3", "fish=40 kg"]
OUT = ["--no-charts", "--out", "o"]
UNSURE = ["--uncertain", "10", "--threads", "1"]
RUN = ["run", "day.yaml", *OUT, "--set", PUMP_OFF]
SHARD = ["spread", "day.yaml", "--no-charts", "--runs", "10", "--shard"]

# name: (arguments, the least number of sites that must be met)
CASES = {
    "run": (["run", "day.yaml", *OUT], 300),
    "run report": (["run", "day.yaml", *OUT, "--set", PUMP_OFF, "--report", "--units", "us"], 400),
    "check": (["check", "day.yaml"], 100),
    "check json": (["check", "day.yaml", "--json"], 80),
    "check faults": (["check", "bad.yaml"], 25),
    "check faults json": (["check", "bad.yaml", "--json"], 25),
    "keys": (["keys"], 5),
    "keys json": (["keys", "--json"], 30),
    "keys schema": (["keys", "--schema"], 200),
    "keys media": (["keys", "tower.media"], 5),
    "log": (["log", "day.yaml"], 20),
    "log csv": (["log", "day.yaml", "--csv"], 20),
    "water": (["water", *SAMPLE], 20),
    "water json": (["water", *SAMPLE, "--json"], 20),
    "compare": (["compare", "day.yaml", "--vary", "fish[0].count=10,20", *OUT, "--report"], 300),
    "size": (["size", "day.yaml", "--most", "fish[0].count", *OUT], 300),
    "endure": (["endure", "day.yaml", *OUT, "--card", "--at", "12:00"], 300),
    "compare uncertain": (["compare", "day.yaml", "--vary", "fish[0].count=10,20", *OUT, "--report", *UNSURE],
                          300),
    "size uncertain": (["size", "day.yaml", "--most", "fish[0].count", *OUT, *UNSURE], 300),
    "endure uncertain": (["endure", "day.yaml", *OUT, "--at", "12:00", *UNSURE], 300),
    "fit": (["fit", "day.yaml", "readings.csv", *OUT, "--fit", "parameters.n_feed", "--fit",
             "parameters.k_surface", "--forecast", "6 h"], 300),
    "spread": (["spread", "day.yaml", *OUT, "--runs", "10"], 300),
    "lesson": (["lesson", "ph", "--answer", "1", *OUT], 300),
    "lessons": (["lesson"], 20),
    "teacher": (["lesson", "--teacher", *OUT], 300),
    "merge": (["merge", "a", "b", *OUT], 150),
    "report": (["report", "o", "--no-charts"], 200),
    "report charts": (["report", "o"], 300),
    "chart": (["chart", "o"], 120),
    "run charts": (["run", "day.yaml", "--out", "o"], 400),
}
# what has been there before
EARLIER = {
    "merge": [[*SHARD, "1/2", "--out", "a"], [*SHARD, "2/2", "--out", "b"]],
    "report": [RUN],
    "report charts": [RUN],
    "chart": [RUN],
}
# those for which gnuplot, a stand-in, is there; the others are about the program alone
DRAWS = ("report charts", "chart", "run charts")


class Case:
    def __init__(self, program, shim, name, work):
        self.program, self.shim = os.path.abspath(program), os.path.abspath(shim)
        self.work = work
        self.arguments, self.least = CASES[name]
        self.name, self.path, self.earlier = name, work / "path", work / "earlier"
        self.path.mkdir()
        if name in DRAWS:
            stand_in.put(self.path, stand_in.WAYS["draws"])
        self.earlier.mkdir()
        if name in EARLIER:
            self.write(self.earlier)
            for arguments in EARLIER[name]:
                self.call(self.earlier, arguments)

    def folder(self, name):
        folder = self.work / name
        shutil.copytree(self.earlier, folder)
        self.write(folder)
        return folder

    @staticmethod
    def write(folder):
        for file, text in (("day.yaml", DAY), ("bad.yaml", BAD), ("readings.csv", READINGS)):
            (folder / file).write_text(text)

    def run(self, folder, **wanted):
        """Exit status, output, messages and files."""
        if wanted:
            wanted["LD_PRELOAD"] = self.shim
        p = self.call(folder, self.arguments, **wanted)
        return p.returncode, p.stdout, p.stderr, tree(folder)

    def call(self, folder, arguments, **more):
        env = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG"))}
        env |= {"PATH": str(self.path), **more}
        return subprocess.run([self.program, *arguments], cwd=folder, env=env, timeout=300,
                              stdin=subprocess.DEVNULL, capture_output=True, check=False)

    def reference(self):
        sites = self.work / "sites"
        before = self.folder("reference")
        self.before = tree(before)
        self.good = self.run(before, FAIL_LIST=str(sites))
        self.sites = sorted(set(sites.read_text().split()))

    def fault(self, site):
        """What is wrong when memory is short at a site, or None."""
        folder = self.folder(site)
        status, out, err, files = self.run(folder, FAIL_SITE=site)
        if status == self.good[0]:
            names = ("status", "standard output", "messages", "files")
            wrong = [n for n, a, b in zip(names, (status, out, err, files), self.good) if a != b]
            return f"same status, other {', '.join(wrong)}: {differing(files, self.good[3])}" \
                if wrong else None
        if status != 1:
            return f"status {status}: {err.decode()[-200:]}"
        if b"memory" not in err:
            return f"no message about memory: {err.decode()[-200:]!r}"
        if files == self.before or without(files) == without(self.good[3]):
            return None
        again = self.run(folder)
        if again[3] != self.good[3]:
            left = sorted(files.keys() - self.before.keys())
            return f"left {left[:6]}; the same again: {again[0]}, {again[2].decode()[-200:]!r}, " \
                   f"{differing(again[3], self.good[3])}"
        return None


def differing(files, good):
    return sorted(n for n in files.keys() | good.keys() if files.get(n) != good.get(n))[:6]


def without(files):
    """Without what is drawn or made of results: `chart` and `report` make it of those that are there. A
    picture that is there is whole, which the test of gnuplot sees to."""
    return {n: b for n, b in files.items()
            if n != "o/report.html" and not n.startswith("o/charts/") and n != "o/charts"}


def tree(folder):
    return {str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None
            for p in folder.rglob("*")}


def main(program, shim, name, every="1"):
    with tempfile.TemporaryDirectory() as work:
        case = Case(program, shim, name, pathlib.Path(work))
        case.reference()
        tried = case.sites[:: int(every)]
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
            found = list(pool.map(case.fault, tried))
    wrong = 0
    for site, what in zip(tried, found):
        if what:
            wrong += 1
            print(f"FAIL_SITE={site}: {what}")
    print(f"{name}: status {case.good[0]}, {len(case.sites)} sites, {len(tried)} tried, {wrong} wrong")
    if len(case.sites) < case.least:
        print(f"fewer sites than the {case.least} expected: is the shim loaded?")
    return wrong > 0 or len(case.sites) < case.least


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
