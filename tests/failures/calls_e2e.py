#!/usr/bin/env python3
"""The system refuses one call of the program after the other: a full disk, a folder that cannot be made, a
process that cannot be started.

Usage: calls_e2e.py PROGRAM CASE [EVERY]

strace lets the N-th call of a kind fail, for N = 1, 2, ... until the program makes no more of them: of the
program, not of the gnuplot it starts, which fails in gnuplot_e2e.py (every EVERY-th only). Each time the command ends as without a failure, files alike, or with exit status
1, or 2 where it cannot read what it was given, and a message; no file is half-written, and results that
were there before are as they were, or replaced as a whole. The folder of a study may stay: the same
command ends in the same files then.
"""
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
import stand_in  # noqa: E402
from alloc_e2e import DAY, READINGS, UNSURE, differing, tree  # noqa: E402

SKIPPED = 77
LEFT = re.compile(r"\.(old|draft|drawing|charts)-")
OUT = ["--no-charts", "--out", "o"]
RUN = ["run", "day.yaml", *OUT]
SPREAD = ["spread", "day.yaml", "--runs", "20", "--threads", "1", "--no-charts"]
# name: arguments, the commands that have been there before, whether gnuplot (a stand-in) is there
CASES = {
    "run": (RUN, [], False),
    "run force": ([*RUN, "--force", "--set", "fish[0].count=20"], [RUN], False),
    # on a disk where two folders cannot change places
    "run force in steps": ([*RUN, "--force", "--set", "fish[0].count=20"], [RUN], False),
    "run report": ([*RUN, "--report"], [], False),
    "run charts": (["run", "day.yaml", "--out", "o", "--report"], [], True),
    "chart": (["chart", "o"], [RUN], True),
    "compare": (["compare", "day.yaml", "--vary", "fish[0].count=10,20", *OUT, "--threads", "1"], [],
                False),
    "size": (["size", "day.yaml", "--most", "fish[0].count", *OUT, "--threads", "1"], [], False),
    "report": (["report", "o", "--no-charts"], [RUN], False),
    "report charts": (["report", "o"], [RUN], True),
    "spread": ([*SPREAD, "--out", "o"], [], False),
    "merge": (["merge", "a", "b", *OUT],
              [[*SPREAD, "--shard", "1/2", "--out", "a"], [*SPREAD, "--shard", "2/2", "--out", "b"]],
              False),
    "endure": (["endure", "day.yaml", *OUT, "--card", "--threads", "1"], [], False),
    "endure uncertain": (["endure", "day.yaml", *OUT, "--at", "12:00", *UNSURE], [], False),
    "compare uncertain": (["compare", "day.yaml", "--vary", "fish[0].count=10,20", *OUT, *UNSURE], [], False),
    "size uncertain": (["size", "day.yaml", "--most", "fish[0].count", *OUT, *UNSURE], [], False),
    "fit": (["fit", "day.yaml", "readings.csv", *OUT, "--fit", "parameters.n_feed", "--fit",
             "parameters.k_surface", "--forecast", "6 h"], [], False),
    "teacher": (["lesson", "--teacher", *OUT], [], False),
    "lesson": (["lesson", "ph", "--html", "p.html", *OUT], [], False),
}
# the calls by which a program changes things, and what they fail with; a file that is opened to be
# read is one of them
CALLS = (("write", "ENOSPC"), ("openat", "ENOSPC"), ("rename", "EIO"), ("renameat2", "EIO"), ("mkdir", "ENOSPC"),
         ("close", "EIO"), ("unlink,unlinkat", "EIO"), ("rmdir", "EIO"), ("read", "EIO"),
         ("fsync,fdatasync", "EIO"), ("pipe2", "EMFILE"), ("vfork,fork,clone,clone3", "EAGAIN"),
         ("getrandom", "ENOSYS"), ("newfstatat", "EIO"))


class Case:
    def __init__(self, program, name, work):
        self.program, self.work, self.number = os.path.abspath(program), work, 0
        self.arguments, self.earlier, self.charts = CASES[name]
        self.always = ["-e", "inject=renameat2:error=EINVAL"] if name.endswith("in steps") else []
        self.path = work / "path"
        self.path.mkdir()
        if self.charts:
            stand_in.put(self.path, stand_in.WAYS["draws"])

    def call(self, folder, arguments, tracer=()):
        env = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG"))}
        env["PATH"] = str(self.path)
        p = subprocess.run([*tracer, self.program, *arguments], cwd=folder, env=env, timeout=300,
                           stdin=subprocess.DEVNULL, capture_output=True)
        return p.returncode, p.stdout, p.stderr

    def folder(self):
        self.number += 1
        folder = self.work / str(self.number)
        folder.mkdir()
        (folder / "day.yaml").write_text(DAY)
        (folder / "readings.csv").write_text(READINGS)
        if self.earlier:
            shutil.copytree(self.work / "earlier", folder, dirs_exist_ok=True)
        return folder

    def begin(self):
        if self.earlier:
            earlier = self.work / "earlier"
            earlier.mkdir()
            (earlier / "day.yaml").write_text(DAY)
            for arguments in self.earlier:
                self.call(earlier, arguments)
        folder = self.folder()
        self.before = tree(folder)
        self.good = (*self.call(folder, self.arguments), tree(folder))

    def refused(self, calls, error, n):
        """Whether there was an N-th such call, and what is wrong then, or None."""
        folder, log = self.folder(), self.work / "log"
        status, out, err = self.call(folder, self.arguments, (
            shutil.which("strace"), *([] if self.charts else ["-f"]), "-qq", "-o", str(log), "-e", f"trace={calls}{self.always and ',renameat2' or ''}",
            "-e", f"inject={calls}:error={error}:when={n}", *self.always))
        if not any("(INJECTED)" in line and not (self.always and "renameat2(" in line)
                   for line in log.read_text(errors="replace").splitlines()):
            return False, None
        if status == 127 and b"loading shared libraries" in err:
            return True, None  # the program has not begun
        return True, self.wrong(folder, status, out, err)

    def wrong(self, folder, status, out, err):
        files = tree(folder)
        text = err.decode(errors="replace")[-300:]
        if status == self.good[0]:
            if (out, files) == (self.good[1], self.good[3]):
                return None
            # what could not be deleted is named
            left = {part for n in files for part in n.split("/") if LEFT.search(part)}
            if left and all(part.encode() in err for part in left) and out == self.good[1] and \
                    self.good[3] == {n: b for n, b in files.items() if not LEFT.search(n)}:
                return None
            return f"same status, other {differing(files, self.good[3])}, {text!r}"
        if status not in (1, 2):
            return f"status {status}: {text!r}"
        if b"towerloop: " not in err and b"expected " not in err:
            return f"no message: {text!r}"
        if files in (self.before, self.good[3]):
            return None
        # pictures that could not be drawn, a report that could not be made
        if self.charts or self.earlier or "--report" in self.arguments:
            results = {n: b for n, b in self.good[3].items() if "charts" not in n and "report" not in n}
            if {n: b for n, b in files.items() if "charts" not in n and "report" not in n} == results \
                    and all(b == self.good[3].get(n) or (n.endswith("report.html") and b.endswith(b"</html>\n"))
                            for n, b in files.items()):
                return None
        again = self.call(folder, self.arguments)
        if tree(folder) != self.good[3]:
            return f"status {status}, {text!r}; left {differing(files, self.before)}; again: {again[0]}, " \
                   f"{again[2].decode()[-150:]!r}, {differing(tree(folder), self.good[3])}"
        return None


def may_trace():
    strace = shutil.which("strace")
    return strace and subprocess.run(
        [strace, "-qq", "-o", os.devnull, "-e", "inject=mkdir:error=EIO:when=99", "true"],
        capture_output=True).returncode == 0


def main(program, name, every="1"):
    if not may_trace():
        print("skipped: strace is missing or may not trace here (ptrace is not permitted)")
        return SKIPPED
    wrong, refused, met = 0, {}, {}
    with tempfile.TemporaryDirectory() as work:
        case = Case(program, name, pathlib.Path(work))
        case.begin()
        for calls, error in CALLS:
            n, there = 1, True
            while there:
                there, what = case.refused(calls, error, n)
                if there:
                    refused[calls] = refused.get(calls, 0) + 1
                if what:
                    wrong += 1
                    print(f"{calls} number {n}, {error}: {what}")
                n += int(every)
    print(f"{name}: {sum(refused.values())} calls refused, {wrong} wrong: "
          + ", ".join(f"{c} {k}" for c, k in refused.items()))
    if not {"write", "openat"} <= refused.keys():
        print("no file was opened or written: is the program traced?")
        wrong += 1
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
