#!/usr/bin/env python3
"""gcc's analyzer and cppcheck over src; what they find wrongly is argued in tests/analyzers.txt.

usage: tests/analyze.py BUILD [gcc [FILE...] | cppcheck]

BUILD is a build folder of gcc; of it, only the compile commands are used. With FILEs of src only those. Exit status 1 with findings that are not
argued, or arguments that have nothing left to argue about.
"""

import concurrent.futures
import fnmatch
import json
import os
import pathlib
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
ARGUED = ROOT / "tests" / "analyzers.txt"
# jansson's loop, which cppcheck does not know
LOOP = ("#define json_array_foreach(array, index, value) for (index = 0; index < json_array_size(array) && "
        "(value = json_array_get(array, index)); index++)\n")


def commands(build):
    for entry in json.loads((build / "compile_commands.json").read_text(encoding="utf-8")):
        file = (pathlib.Path(entry["directory"]) / entry["file"]).resolve()
        if file.is_relative_to(ROOT / "src"):
            yield file, entry["directory"], shlex.split(entry["command"])


def analyze(job):
    file, folder, command = job
    while pathlib.Path(command[0]).name in ("ccache", "sccache"):
        command = command[1:]
    at = command.index("-o")
    command = [*command[:at], *command[at + 2:], "-o", os.devnull, "-fanalyzer", "-O2", "-g0", "-Wno-error",
               "-fdiagnostics-plain-output", "-Wno-analyzer-too-complex"]
    process = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if process.returncode != 0:
        raise SystemExit(f"{file}: {process.stderr}")
    found = set()
    for where, line, what, check in re.findall(r"(?m)^([^:\s]+):(\d+):\d+: warning: (.*) \[(-Wanalyzer[^\]]*)\]$", process.stderr):
        found.add((str((pathlib.Path(folder) / where).resolve().relative_to(ROOT)), check, line, what))
    return found


def gcc(build, files):
    jobs = [job for job in commands(build) if not files or job[0] in files]
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        return set().union(*pool.map(analyze, jobs))


def cppcheck(_build, _files):
    folders = sorted({f"-I{path.parent}" for path in (ROOT / "src").rglob("*.h")} | {f"-I{ROOT / 'include'}"})
    with tempfile.NamedTemporaryFile("w", suffix=".h") as loop:
        loop.write(LOOP)
        loop.flush()
        process = subprocess.run(
            ["cppcheck", f"-j{os.cpu_count()}", "--enable=warning,performance,portability", "--std=c11", "--quiet",
             "--suppress=missingIncludeSystem", f"--include={loop.name}", "--template={file}\t{id}\t{line}\t{message}",
             *folders, "src"],
            cwd=ROOT, capture_output=True, text=True, check=False)
    if process.returncode != 0:
        raise SystemExit(process.stderr)
    return {tuple(line.split("\t")) for line in process.stderr.splitlines() if line.count("\t") == 3}


def main():
    build, tools = pathlib.Path(sys.argv[1]), sys.argv[2:3] or ["gcc", "cppcheck"]
    files = {pathlib.Path(name).resolve() for name in sys.argv[3:]}
    rows = [line.split(None, 2) for line in ARGUED.read_text(encoding="utf-8").splitlines() if line and line[0] != "#"]
    bad = 0
    for name, function in (("gcc", gcc), ("cppcheck", cppcheck)):
        if name not in tools:
            continue
        if not shutil.which(name):
            print(f"{name}: not here, not looked at")
            continue
        own = [row for row in rows if row[1].startswith("-W") == (name == "gcc")]
        used, found = set(), sorted(function(build, files))
        for file, check, line, what in found:
            hits = [i for i, row in enumerate(own) if row[1] == check and fnmatch.fnmatch(file, row[0])]
            used.update(hits)
            if not hits:
                print(f"{file}:{line}: {what} [{check}]")
                bad += 1
        for i, row in enumerate(own):
            if i not in used and not files:
                print(f"{ARGUED.relative_to(ROOT)}: nothing is found any more of: {row[0]} {row[1]}")
                bad += 1
        print(f"{name}: {len(found)} findings, {len(own)} arguments")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
