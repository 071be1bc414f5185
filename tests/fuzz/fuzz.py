#!/usr/bin/env python3
"""Runs the fuzzing harnesses of a build that was made with -Dfuzz=true.

usage: fuzz.py BUILD [option]... [HARNESS]...

  --program PROGRAM  a towerloop to make first inputs and dictionaries with (seeds.py)
  --seconds N        to go on, all harnesses together; default 60
  --jobs N           harnesses side by side; default: one a processor
  --work FOLDER      what was tried and found, kept from run to run; default BUILD/fuzz-work
  --merge            afterwards bring the corpus in tests/fuzz/corpus up to date, by the least inputs that reach as much

Prints a line a harness: seconds of processor, executions, edges reached. Exits with 1 when there are findings: a sanitizer,
a broken promise, an input that takes more than 25 s of processor or 2 GB of memory. That time runs out for a whole
harness is none.
"""

import argparse
import concurrent.futures
import os
import pathlib
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
INPUT_SECONDS = 25
MEMORY_MB = 2048
LARGEST_KEPT = 12000  # bytes of an input of the corpus
CORPUS_BYTES = 17000  # of one harness: the corpus of all stays below 300 kB


def environment(place):
    return dict(os.environ, TMPDIR=place, UBSAN_OPTIONS="print_stacktrace=1:halt_on_error=1",
                ASAN_OPTIONS="detect_leaks=1:halt_on_error=1")


def limited_to(seconds):
    def limit():
        os.nice(19)
        if seconds:
            resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    return limit


def call(command, log, seconds=None):
    """Exit status and seconds of processor."""
    scratch = "/dev/shm" if os.path.isdir("/dev/shm") else None
    with tempfile.TemporaryDirectory(dir=scratch) as place, open(log, "wb") as out:
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, env=environment(place),
                                   preexec_fn=limited_to(seconds))
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    return process.returncode, used.ru_utime + used.ru_stime


class Harness:
    def __init__(self, program, work):
        self.name = program.name.removeprefix("fuzz_")
        self.program, self.work = program, work
        self.corpus, self.findings = work / "corpus" / self.name, work / "findings" / self.name
        self.corpus.mkdir(parents=True, exist_ok=True)
        self.findings.mkdir(parents=True, exist_ok=True)
        self.log = work / f"{self.name}.log"

    def inputs(self):
        places = [self.corpus, HERE / "corpus" / self.name, HERE / "found" / self.name, self.work / "seeds" / self.name]
        return [place for place in places if place.is_dir()]

    def fuzz(self, seconds):
        before = set(self.findings.iterdir())
        words = self.work / "seeds" / f"{self.name}.dict"
        command = [self.program, f"-max_total_time={max(1, round(seconds))}", f"-timeout={10 * INPUT_SECONDS}",
                   f"-report_slow_units={INPUT_SECONDS}", f"-rss_limit_mb={MEMORY_MB}", f"-artifact_prefix={self.findings}/", "-print_final_stats=1",
                   *([f"-dict={words}"] if words.exists() else []), *self.inputs()]
        status, processor = call(command, self.log)
        text = self.log.read_text(errors="replace")
        found = [path for path in set(self.findings.iterdir()) - before if self.is_finding(path)]
        stopped = status != 0 and not found and not re.search("timeout", text)
        if found or stopped:
            told = [line for line in text.splitlines() if line and line[0] not in "#\t"]
            print("\n".join(told)[-6000:], file=sys.stderr)
            print(f"{self.name}: again with {self.program} FILE, where FILE is", *found, file=sys.stderr)
        executions = re.findall(r"number_of_executed_units: (\d+)", text) or re.findall(r"^#(\d+)", text, re.MULTILINE)
        edges = re.findall(r" cov: (\d+)", text)
        print(f"{self.name}: {processor:.0f} s of processor, {executions[-1] if executions else 0} executions, "
              f"{edges[-1] if edges else 0} edges, {len(found)} findings", flush=True)
        with open(self.work / "effort.csv", "a", encoding="utf-8") as log:
            log.write(f"{time.strftime('%Y-%m-%dT%H:%M:%S')},{self.name},{processor:.1f},"
                      f"{executions[-1] if executions else 0},{edges[-1] if edges else 0},{len(found)}\n")
        return bool(found) or stopped

    def is_finding(self, path):
        """Whether it is so by itself: the clock of a busy machine is no witness against an input."""
        if not path.name.startswith(("timeout-", "slow-unit-")):
            return True
        status, _ = call([self.program, f"-rss_limit_mb={MEMORY_MB}", "-timeout=0", path], self.log.with_suffix(".again"),
                         INPUT_SECONDS)
        return status != 0

    def merge(self):
        small, place = self.work / "small" / self.name, HERE / "corpus" / self.name
        least = self.work / "least" / self.name
        for folder in (small, least):
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir(parents=True)
        for folder in self.inputs():
            for path in folder.iterdir():
                if path.stat().st_size <= LARGEST_KEPT and folder != HERE / "found" / self.name:
                    shutil.copy(path, small)
        call([self.program, "-merge=1", f"-timeout={INPUT_SECONDS}", f"-rss_limit_mb={MEMORY_MB}", least, small], self.log)
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir(parents=True)
        room = CORPUS_BYTES
        ranked = sorted(least.iterdir(), key=lambda p: (p.stat().st_size, p.name))
        for i in range(len(ranked)): # long ones go deep, short ones wide
            path = ranked.pop(-1 if i % 2 else 0)
            if path.stat().st_size <= room:
                room -= path.stat().st_size
                shutil.copy(path, place)
        print(f"{self.name}: {len(list(place.iterdir()))} inputs kept of {len(list(least.iterdir()))}", flush=True)


def main():
    options = argparse.ArgumentParser(usage=__doc__)
    options.add_argument("build", type=pathlib.Path)
    options.add_argument("harness", nargs="*")
    options.add_argument("--program")
    options.add_argument("--seconds", type=float, default=60)
    options.add_argument("--jobs", type=int, default=os.cpu_count())
    options.add_argument("--work", type=pathlib.Path)
    options.add_argument("--merge", action="store_true")
    o = options.parse_intermixed_args()
    work = (o.work or o.build / "fuzz-work").resolve()
    work.mkdir(parents=True, exist_ok=True)
    if o.program:
        subprocess.run([sys.executable, HERE / "seeds.py", o.program, HERE.parent.parent, work / "seeds"], check=True,
                       stdout=subprocess.DEVNULL)
    programs = sorted(p for p in (o.build.resolve() / "tests/fuzz").glob("fuzz_*") if p.is_file() and os.access(p, os.X_OK))
    harnesses = [h for h in (Harness(p, work) for p in programs) if not o.harness or h.name in o.harness]
    if not harnesses or {h.name for h in harnesses} < set(o.harness):
        sys.exit("there is no such harness")
    each = o.seconds * o.jobs / len(harnesses)
    with concurrent.futures.ThreadPoolExecutor(o.jobs) as pool:
        found = list(pool.map(lambda h: h.fuzz(each), harnesses))
        if o.merge:
            list(pool.map(lambda h: h.merge(), harnesses))
    sys.exit(1 if any(found) else 0)


main()
