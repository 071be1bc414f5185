"""src/doc/results.md against what is written: every member of every JSON file is named there, and every member that is
named in a first column there is written.

usage: members.py PROGRAM SOURCE_ROOT
"""

import fnmatch
import json
import pathlib
import re
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
ROOT = pathlib.Path(sys.argv[2]).resolve()
sys.path.insert(0, str(ROOT / "tests" / "e2e"))
from run_e2e import PROGRAM, SMALL, without_gnuplot  # noqa: E402

PAGE = ROOT / "src" / "doc" / "results.md"
EVERYWHERE = {"format", "version", "build"}
# names that come from a table or a key of the scenario; the page says so
FREE = ("summary.json/ledger/", "summary.json/parameters/", "summary.json/written/", "summary.json/heat/flows_kWh/",
        "compare.json/variants/limits/", "compare.json/uncertain/", "compare.json/variants/uncertain/",
        "spread.json/limits/rank_correlation/", "spread.json/sensitivity/", "size.json/by_hand/", "size.json/own_run/",
        "size.json/uncertain/", "size.json/buys/", "endure.json/uncertain/")

INDOORS = SMALL.replace("length: 3 d", "length: 2 d")
MUCH = INDOORS.replace("biofilm: mature", "biofilm: new").replace(
    "temperature: 20 degC\n", "").replace("source water: {", "source water: {temperature: 12 degC, chlorine: 1 mg/L, ") + """\
weather: {air temperature: 12 degC, humidity: 70 %, wind: 2 m/s, cloud: 50 %, latitude: 45 deg}
sun: {tank shaded: 50 %}
dosing: {baking soda: {hold alkalinity: 90 mg/L as CaCO3}}
events:
  - {at: day 0 12:00, dose: {formalin: {to content: 25 mg/L}}}
  - {at: day 1 02:00, pump: off, for: 2 h}
  - {at: day 1 08:00, clean: tray 3}
"""
READINGS = "time_iso,place,quantity,value,unit,error\n" + "".join(
    f"2027-06-01T{hour:02d}:30,tank,oxygen,{8 - hour / 50},mg/L,0.2\n" for hour in range(2, 23, 2))
CALLS = {
    "summary.json": (["run", "pond.yaml", "--out", "run"], ["run", "much.yaml", "--out", "much"]),
    "compare.json": (["compare", "pond.yaml", "--vary", "tower.trays=8,12", "--uncertain", "10", "--out", "compare"],),
    "size.json": (["size", "pond.yaml", "--least", "pump.flow", "--out", "size"],
                  ["size", "pond.yaml", "--most", "fish[0].count", "--least", "tower.trays", "--by-hand", "--out", "two"]),
    "endure.json": (["endure", "pond.yaml", "--out", "endure"],),
    "spread.json": (["spread", "pond.yaml", "--runs", "16", "--out", "spread"],),
    "fit.json": (["fit", "pond.yaml", "readings.csv", "--fit", "parameters.k_surface", "--out", "fit"],),
}


def members(value, above, found):
    """Paths of all members, without the indices of arrays."""
    if isinstance(value, dict):
        for name, below in value.items():
            found.add(f"{above}/{name}")
            members(below, f"{above}/{name}", found)
    elif isinstance(value, list):
        for one in value:
            members(one, above, found)


def written():
    found = {name: set() for name in CALLS}
    with tempfile.TemporaryDirectory(prefix="towerloop members ") as work:
        folder = pathlib.Path(work)
        for name, text in (("pond.yaml", INDOORS), ("much.yaml", MUCH), ("readings.csv", READINGS)):
            (folder / name).write_text(text, encoding="utf-8")
        for name, calls in CALLS.items():
            for arguments in calls:
                done = subprocess.run([PROGRAM, *arguments], cwd=folder, env=without_gnuplot(folder),
                                      capture_output=True, text=True, check=False)
                if done.returncode > 1:
                    raise SystemExit(f"{' '.join(arguments)}: {done.stderr}")
                with open(folder / arguments[-1] / name, encoding="utf-8") as file:
                    members(json.load(file), name, found[name])
    return found


def sections():
    """Of each file: the names in the first column, and all names."""
    page = {}
    for part in re.split(r"^## ", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
        title, _, body = part.partition("\n")
        first, every = set(), set()
        for line in body.splitlines():
            cells = line.split("|")
            for code in re.findall(r"`([^`]+)`", line):
                every.update(re.findall(r"[A-Za-z_*][A-Za-z0-9_* -]*", code))
                every.update(re.findall(r"[A-Za-z_*][A-Za-z0-9_*]*", code))
            if len(cells) > 2:
                for code in re.findall(r"`([^`]+)`", cells[1]):
                    first.update(re.findall(r"[A-Za-z_*][A-Za-z0-9_*]*", code))
        page[title.strip()] = (first, every)
    return page


def main():
    page, faults = sections(), []
    for name, paths in written().items():
        first, every = page[name]
        names = {path.rsplit("/", 1)[1] for path in paths}
        for path in sorted(paths):
            last = path.rsplit("/", 1)[1]
            if last in EVERYWHERE or "/build/" in path or path.startswith(FREE):
                continue
            if not any(fnmatch.fnmatchcase(last, n) for n in every):
                faults.append(f"{path} is not in {PAGE.name}")
        # `--spread` and `--sensitivity` take a study of their own
        for named in sorted(first - {"chance", "sensitivity"}):
            if not any(fnmatch.fnmatchcase(n, named) for n in names):
                faults.append(f"{PAGE.name} names {named} of {name}, which is not written")
    print("\n".join(faults) or f"{len(CALLS)} files agree")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
