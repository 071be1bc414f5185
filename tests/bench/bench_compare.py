"""How long `compare` takes for twelve variants of 90 days, in single runs of the same loop.

usage: bench_compare.py PROGRAM [TIMES]

By hand. Rows every 15 minutes, no charts, two threads. `run` also tries levers where a limit is broken,
each in a run of its own, so a loop within limits and a crowded one are measured. Medians of TIMES (7)
of the time on the clock and of the processors' time.
"""

import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

PROGRAM = pathlib.Path(sys.argv[1]).resolve()
TIMES = int(sys.argv[2]) if len(sys.argv) > 2 else 7
VARIANTS = 12
SCENARIO = """\
format: 1
title: Ninety days
start: 2027-05-01
length: 90 d
report every: 15 min
temperature: {{mean: 20 degC, seasonal swing: 4 degC, warmest day: 07-25, daily swing: 1 degC}}
tank: {{volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}}
settling chamber: {{volume: 800 L, surface: 1 m2, wetted walls: 4 m2}}
pump: {{flow: 1200 gal/h, to tower: 100 %}}
tower: {{trays: 16, media depth: 3 in, plan area: 4 ft2, media: lava rock, biofilm: mature}}
aerator: {{oxygen transfer: 10 g/h}}
source water: {{alkalinity: 85 mg/L as CaCO3, pH: 7.8, nitrate: 2 mg/L as N, chloride: 20 mg/L}}
starting water: {{pH: 8.1}}
water change: {{trickle: 20 %/d}}
fish: [{{name: koi, count: {count}, mean mass: 500 g}}]
feeding: {{ration: 0.5 %/d, protein: 38 %, meals: ["08:00", "13:00", "18:00"]}}
"""


def measure(folder, *words):
    """Seconds on the clock and of processors, and the first line of the answer."""
    before, begin = os.times(), time.perf_counter()
    done = subprocess.run([PROGRAM, *words, "--no-charts", "--force", "--out", folder / words[0]], check=True,
                          capture_output=True, text=True)
    seconds, after = time.perf_counter() - begin, os.times()
    used = after.children_user - before.children_user + after.children_system - before.children_system
    return seconds, used, done.stdout.split("\n", 1)[0]


def bench(folder, name, count):
    file = folder / "pond.yaml"
    file.write_text(SCENARIO.format(count=count), encoding="utf-8")
    trays = ",".join(str(10 + i) for i in range(VARIANTS))
    single, many = [], []
    for _ in range(TIMES):  # in turn, so that a busy machine slows both
        single.append(measure(folder, "run", file))
        many.append(measure(folder, "compare", file, "--vary", f"tower.trays={trays}", "--threads", "2"))
    median = lambda list, k: statistics.median(entry[k] for entry in list)
    print(f"{name}: {single[0][2]}")
    for k, clock in enumerate(("clock", "processors")):
        one, twelve = median(single, k), median(many, k)
        print(f"  {clock:10}  run {one:6.3f} s, compare of {VARIANTS} {twelve:6.3f} s: {twelve / one:.1f} runs")


with tempfile.TemporaryDirectory() as name:
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}; medians of {TIMES}")
    bench(pathlib.Path(name), "within limits, nothing to try", 12)
    bench(pathlib.Path(name), "crowded, levers tried", 120)
