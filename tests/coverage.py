#!/usr/bin/env python3
"""How much of src the tests run through: lines and branches, by folder, and the files with most left over.

usage: tests/coverage.py [BUILD [meson test options]]

BUILD, build-coverage by default, is made if it is not there. Without options all tests but the slow ones are run; with
--read none are, and what lies there is counted. A line counts once, whatever it was compiled into; so does a branch.
"""

import collections
import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
WORST = 25


def measure(build):
    """{file: {line: count}}, {file: {(line, number): count}} of the files of src."""
    lines, branches = collections.defaultdict(collections.Counter), collections.defaultdict(collections.Counter)
    for data in sorted((build / "src").rglob("*.gcda")):
        process = subprocess.run(["gcov", "--json-format", "--stdout", "--branch-probabilities", str(data)], cwd=build,
                                 capture_output=True, text=True, check=True)
        for document in process.stdout.splitlines():
            for file in json.loads(document)["files"]:
                path = (build / file["file"]).resolve()
                if not path.is_relative_to(ROOT / "src"):
                    continue
                name = str(path.relative_to(ROOT))
                for line in file["lines"]:
                    lines[name][line["line_number"]] += line["count"]
                    for number, branch in enumerate(line["branches"]):
                        branches[name][line["line_number"], number] += branch["count"]
    return lines, branches


def share(counters):
    every = sum(len(counter) for counter in counters)
    run = sum(sum(count > 0 for count in counter.values()) for counter in counters)
    return f"{100 * run / every if every else 100:5.1f} % of {every:6d}"


def missing(counter):
    return sum(count == 0 for count in counter.values())


def main():
    build = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else ROOT / "build-coverage").resolve()
    options = sys.argv[2:] or ["--no-suite", "slow"]
    if not (build / "build.ninja").exists():
        subprocess.run(["meson", "setup", str(build), str(ROOT), "--buildtype=debug", "-Doptimization=1", "-Db_coverage=true"],
                       check=True)
    if options != ["--read"]:
        subprocess.run(["meson", "compile", "-C", str(build)], check=True)
        subprocess.run(["meson", "test", "-C", str(build), "--no-rebuild", "--timeout-multiplier", "4", *options], check=False)
    lines, branches = measure(build)
    print(f"{'':24} {'lines':>17} {'branches':>17}")
    folders = sorted({name.split("/")[1] for name in lines})
    for folder in [*folders, ""]:
        prefix = f"src/{folder}/" if folder else "src/"
        own = [name for name in lines if name.startswith(prefix)]
        print(f"{prefix:24} {share([lines[n] for n in own])} {share([branches[n] for n in own])}")
    print(f"\nMost branches not taken ({WORST} files): lines, branches not run")
    for name in sorted(lines, key=lambda n: -missing(branches[n]))[:WORST]:
        print(f"{name:40} {missing(lines[name]):5} of {len(lines[name]):5} {missing(branches[name]):5} of {len(branches[name]):5}")


if __name__ == "__main__":
    main()
