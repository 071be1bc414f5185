"""What is around a run changes none of its results: the locale, the time zone, the clock, the umask, the folder it is
called from, another run beside it. Every command is called in plain surroundings first, then in others; the files it
leaves and what it says have to be the same, byte for byte.

usage: surroundings_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import datetime
import hashlib
import os
import pathlib
import re
import resource
import shutil
import stat
import subprocess
import sys
import tempfile
import unittest

sys.dont_write_bytecode = True
from run_e2e import PROGRAM, SMALL, EndToEnd, environment, read_series, read_summary, towerloop, without_gnuplot  # noqa: E402

NOBODY = 65534
POND = SMALL.replace("length: 3 d", "length: 2 d").replace("start: 2027-06-01", "start: 2027-03-27") + """\
events:
  - {at: day 1 02:30, change water: 10 %}
  - {at: day 1 02:00, pump: off, for: 1 h}
"""
READINGS = "time_iso,place,quantity,value,unit,error\n" + "".join(
    f"2027-03-27T{hour:02d}:30,tank,oxygen,{8 - hour / 50},mg/L,0.2\n" for hour in range(2, 23, 2))
QUICK = (["run", "pond.yaml", "--out", "run", "--report"], ["check", "pond.yaml"], ["log", "pond.yaml"],
         ["water", "temperature=20.5 degC", "pH=8.2", "ammonia=0.5 mg/L as N", "--fix"],
         ["water", "temperature=20,5 degC"])
COMMANDS = (*QUICK, ["chart", "run", "--out", "chart", "--units", "us"], ["log", "pond.yaml", "--csv"], ["keys"],
            ["check", "pond.yaml", "--json"],
            ["compare", "pond.yaml", "--vary", "tower.trays=8,12", "--out", "compare", "--report"],
            ["size", "pond.yaml", "--least", "pump.flow", "--out", "size"],
            ["endure", "pond.yaml", "--out", "endure"], ["endure", "pond.yaml", "--out", "card", "--card"],
            ["spread", "pond.yaml", "--runs", "16", "--out", "spread"],
            ["fit", "pond.yaml", "readings.csv", "--fit", "parameters.k_surface", "--forecast", "6 h", "--out", "fit"],
            ["lesson", "ph", "--answer", "1", "--out", "lesson"])


def tree(folder):
    """Every file below a folder, by its digest."""
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*")) if path.is_file()}


class Surroundings(EndToEnd):
    def prepare(self, name, text=POND):
        work = self.folder / name
        work.mkdir(parents=True)
        (work / "pond.yaml").write_text(text, encoding="utf-8")
        (work / "readings.csv").write_text(READINGS, encoding="utf-8")
        return work

    def all_of(self, name, commands, env=None, text=POND, **options):
        """What the commands say and leave in a folder of their own, called from there."""
        work = self.prepare(name, text)
        said = []
        for args in commands:
            process = towerloop(*args, cwd=work, env=env or environment(), **options)
            self.assertIn(process.returncode, (0, 1) if args[0] == "size" else (0, 2) if "temperature=20,5 degC" in args else (0,),
                          process.stderr)
            said.append((args[0], process.returncode, process.stdout, process.stderr))
        return said, tree(work)

    def same(self, one, other):
        for before, after in zip(one[0], other[0]):
            self.assertEqual(before, after)
        self.assertEqual(one[1], other[1])


    def same_as_far(self, one, other):
        """The same for fewer commands, the first ones."""
        self.same((one[0][:len(other[0])], {name: one[1].get(name) for name in other[1]}), other)


class Locale(Surroundings):
    # with decimal commas; with an i without a dot for a capital I
    LOCALES = {"de_DE.UTF-8": ("de_DE", "UTF-8"), "tr_TR.UTF-8": ("tr_TR", "UTF-8"), "de_DE.ISO-8859-1": ("de_DE", "ISO-8859-1")}

    def test_locales(self):
        store = self.folder / "locales"
        store.mkdir()
        made = []
        for name, (source, charmap) in self.LOCALES.items():
            process = subprocess.run(["localedef", "-i", source, "-f", charmap, str(store / name)], capture_output=True, check=False)
            if (store / name).is_dir():
                made.append(name)
            else:
                print(f"no locale {name} can be made here (package locales): {process.stderr[:200]}", file=sys.stderr)
        if not made:
            self.skipTest("no locale can be made here (package locales)")
        # that they are what they should be, by a program that goes by them
        check = subprocess.run(["/usr/bin/printf", "%.1f", "0,5"], capture_output=True, check=False,
                               env=environment(LC_ALL=made[0], LOCPATH=str(store)))
        self.assertEqual(check.stdout, b"0,5")
        plain = self.all_of("plain", COMMANDS)
        for number, name in enumerate([*made, "C.UTF-8", "no_such.UTF-8"]):
            with self.subTest(locale=name):
                env = environment(LC_ALL=name, LANG=name, LANGUAGE="de:tr", LOCPATH=str(store))
                if number == 0:
                    self.same(plain, self.all_of("other", COMMANDS, env=env))
                else:
                    self.same_as_far(plain, self.all_of(f"other {number}", QUICK, env=env))


class Clock(Surroundings):
    ZONES = ("Pacific/Kiritimati", "America/St_Johns", "Europe/Berlin", "Asia/Kathmandu", "XYZ-23:59:59", ":/no/such/zone", "\u00b5")

    def test_time_zones(self):
        """28 March 2027, 02:00 to 03:00, is no hour of the clocks of Berlin; 14 March none of those of St. John's."""
        plain = self.all_of("plain", QUICK, env=environment(TZ="UTC"))
        for number, zone in enumerate(self.ZONES):
            with self.subTest(zone=zone):
                self.same(plain, self.all_of(f"zone {number}", QUICK, env=environment(TZ=zone)))

    SHIM = r"""
#define _GNU_SOURCE
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>
#include <sys/syscall.h>
/* the clock of the wall leaps by FAKE_LEAP seconds at every look; the one that never leaps begins elsewhere */
static long long looks;
static long long fake(void)
{
    const char *begin = getenv("FAKE_BEGIN"), *leap = getenv("FAKE_LEAP");
    return (begin ? atoll(begin) : 0) + looks++ * (leap ? atoll(leap) : 0);
}
time_t time(time_t *t)
{
    time_t now = fake();
    if (t)
        *t = now;
    return now;
}
int gettimeofday(struct timeval *restrict t, void *restrict zone)
{
    (void)zone;
    *t = (struct timeval){fake(), 0};
    return 0;
}
int clock_gettime(clockid_t which, struct timespec *t)
{
    if (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE) {
        *t = (struct timespec){fake(), 0};
        return 0;
    }
    const int status = (int)syscall(SYS_clock_gettime, which, t);
    t->tv_sec += 1000000;
    return status;
}
"""

    def shim(self):
        compiler = shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")
        if not compiler:
            self.skipTest("no C compiler is here, to fake a clock with")
        source = self.folder / "clock.c"
        source.write_text(self.SHIM, encoding="utf-8")
        # LD_PRELOAD takes no path with a blank in it
        folder = pathlib.Path(tempfile.mkdtemp(prefix="towerloop-clock-"))
        self.addCleanup(shutil.rmtree, folder)
        subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", str(folder / "clock.so"), str(source)], check=True)
        return folder / "clock.so"

    def fake(self, shim, begin, leap):
        sanitizers = os.environ.get("ASAN_OPTIONS", "") + ":verify_asan_link_order=0"
        return environment(LD_PRELOAD=str(shim), FAKE_BEGIN=str(begin), FAKE_LEAP=str(leap), ASAN_OPTIONS=sanitizers)

    def test_the_clock_on_the_wall(self):
        shim = self.shim()
        said = subprocess.run(["date", "-u", "+%Y"], env=self.fake(shim, 4102444800, 0), capture_output=True, check=True)
        self.assertEqual(said.stdout, b"2100\n", "the clock is not faked")
        plain = self.all_of("plain", COMMANDS)
        # 2100 and running on; long ago and running backwards
        self.same(plain, self.all_of("future", COMMANDS, env=self.fake(shim, 4102444800, 86400)))
        self.same_as_far(plain, self.all_of("past", QUICK, env=self.fake(shim, -2208988800, -3600)))


class LeapDay(Surroundings):
    def dates(self, start, length):
        out = f"run {start} {length}"
        process = self.run_small("--report", text=SMALL.replace("2027-06-01", start).replace("length: 3 d", f"length: {length}"), out=out)
        self.expect(process, 0)
        rows = read_series(self.folder / out)
        expected = datetime.datetime.fromisoformat(start)
        for row in rows:
            self.assertEqual(row["time_iso"], (expected + datetime.timedelta(seconds=round(86400 * float(row["time_d"])))).strftime("%Y-%m-%dT%H:%M:%S"))
        return [row["time_iso"][:10] for row in rows], process.stdout, (self.folder / out / "calendar.ics").read_text(encoding="utf-8")

    def test_through_the_day(self):
        days, said, calendar = self.dates("2028-02-28", "3 d")
        self.assertEqual(sorted(set(days)), ["2028-02-28", "2028-02-29", "2028-03-01", "2028-03-02"])
        days, said, calendar = self.dates("2028-02-29", "2 d")
        self.assertEqual(sorted(set(days)), ["2028-02-29", "2028-03-01", "2028-03-02"])
        self.assertIn("20280229", calendar)
        self.assertNotIn("20280230", calendar)

    def test_years_without_one(self):
        days = self.dates("2027-02-28", "2 d")[0]
        self.assertEqual(sorted(set(days)), ["2027-02-28", "2027-03-01", "2027-03-02"])
        for start in ("2027-02-29", "2100-02-29", "2028-02-30"):
            process = self.run_small(text=SMALL.replace("2027-06-01", start), out="no")
            self.expect(process, 2)
            self.assertRegex(process.stderr, rf"small\.yaml:3:\d+: start: .*{start}.*is not a date")

    def test_a_year_from_it_and_events_on_it(self):
        text = SMALL.replace("report every: 1 h", "report every: 1 d").replace("2027-06-01", "2028-02-29").replace("length: 3 d", "length: 366 d")
        text = text.replace("temperature: 20 degC", "temperature: {mean: 15 degC, seasonal swing: 5 degC, warmest day: 02-29}")
        self.expect(self.run_small(text=text + "events: [{at: day 0, change water: 10 %}]\n"), 0)
        rows = read_series(self.folder / "out")
        self.assertEqual(rows[-1]["time_iso"], "2029-03-01T00:00:00")
        warmest = max(rows, key=lambda row: float(row["temperature_degC"]))["time_iso"][:10]
        self.assertIn(warmest, ("2028-02-29", "2029-02-28", "2029-03-01", "2028-03-01"))


class Modes(Surroundings):
    def test_the_umask_is_kept(self):
        commands = [args for args in COMMANDS if "--out" in args]
        before = None
        for umask in (0o077, 0o000, 0o022, 0o027):
            name = f"umask {umask:03o}"
            said, files = self.all_of(name, commands, preexec_fn=lambda umask=umask: os.umask(umask))
            before = before or files
            self.assertEqual(before, files)
            for path in (self.folder / name).rglob("*"):
                if path.name in ("pond.yaml", "readings.csv") and path.parent == self.folder / name:
                    continue
                mode = stat.S_IMODE(path.stat().st_mode)
                self.assertEqual(oct(mode), oct((0o777 if path.is_dir() else 0o666) & ~umask), path)


class Strict(Surroundings):
    def test_a_small_stack(self):
        """It is made larger, for threads and gnuplot as well; where that is forbidden, it is said."""
        def stack(soft_kb, hard):
            return lambda: resource.setrlimit(resource.RLIMIT_STACK, (soft_kb * 1024, hard))

        # the address sanitizer gives each variable that has an address room of its own, and a border
        enough = (1024 if b"__asan_init" in pathlib.Path(PROGRAM).read_bytes() else 256) * 1024
        plain = self.all_of("plain", COMMANDS)
        self.same(plain, self.all_of("small", COMMANDS, preexec_fn=stack(80, resource.RLIM_INFINITY)))
        self.same_as_far(plain, self.all_of("enough", QUICK, preexec_fn=stack(80, enough)))
        work = self.prepare("too small")
        before = tree(work)
        for args in QUICK:
            process = towerloop(*args, cwd=work, preexec_fn=stack(80, 80 * 1024))
            self.assertEqual((process.returncode, process.stdout, process.stderr), (
                1, "", "towerloop: only 80 kB of stack are allowed here; towerloop needs 256 (ulimit -s 256)\n"))
        self.assertEqual(tree(work), before)

    def test_options_may_follow_the_file(self):
        plain = self.all_of("plain", QUICK)
        self.same(plain, self.all_of("strict", QUICK, env=environment(POSIXLY_CORRECT="1")))


class Folders(Surroundings):
    def test_odd_names(self):
        plain = self.all_of("plain", COMMANDS)
        for name in ("with blanks  and 'quotes\" $HOME `x` \\ %s", "two\nlines", "-dash", "\u00fcml\u00e4ut \u05d0", "a" * 200):
            with self.subTest(name=name):
                if name.startswith("with"):
                    self.same(plain, self.all_of(name, COMMANDS))
                else:
                    self.same_as_far(plain, self.all_of(name, QUICK))

    def results(self, folder):
        """What a run found out: its summary names the scenario as it was called."""
        files = tree(folder)
        files.pop("summary.json")
        summary = read_summary(folder)
        self.assertEqual(pathlib.Path(summary.pop("scenario_file")).name, "pond.yaml")
        return files, summary

    def test_called_from_elsewhere(self):
        plain = self.prepare("plain")
        self.expect(towerloop("run", "pond.yaml", "--out", "run", "--report", cwd=plain), 0)
        there = self.prepare("there")
        for number, cwd in enumerate((self.folder, there, "/", "/proc/self")):
            out = there / f"out {number}"
            self.expect(towerloop("run", there / "pond.yaml", "--out", out, "--report", cwd=cwd), 0)
            self.assertEqual(self.results(plain / "run"), self.results(out))
        deep = there / "/".join(["d" * 100] * 3)
        deep.mkdir(parents=True)
        up = "/".join([".."] * 3)
        self.expect(towerloop("run", f"{up}/pond.yaml", "--out", f"{up}/deep", "--report", cwd=deep), 0)
        self.assertEqual(self.results(plain / "run"), self.results(there / "deep"))

    def test_a_working_folder_that_is_gone(self):
        gone = self.folder / "gone"
        gone.mkdir()
        work = self.prepare("work")
        process = subprocess.run(["sh", "-c", 'cd "$1" && rmdir "$1" && exec "$2" run "$3" --out "$4" --no-charts', "sh", str(gone),
                                  str(PROGRAM), str(work / "pond.yaml"), str(work / "out")], capture_output=True, text=True,
                                 env=environment(), check=False)
        self.expect(process, 0)
        process = subprocess.run(["sh", "-c", 'mkdir "$1" && cd "$1" && rmdir "$1" && exec "$2" run "$3" --no-charts', "sh", str(gone),
                                  str(PROGRAM), str(work / "pond.yaml")], capture_output=True, text=True, env=environment(), check=False)
        self.expect(process, 1)
        self.assertIn("No such file", process.stderr)

    def test_below_a_folder_that_may_not_be_looked_into(self):
        closed = self.folder / "closed"
        work = self.prepare("closed/work", POND.replace("temperature: 20 degC", "temperature: {file: t.csv}"))
        (work / "t.csv").write_text("time_d,temperature_degC\n0,20\n2,20\n", encoding="utf-8")
        program = self.folder / "towerloop"
        shutil.copy(PROGRAM, program)
        for path in (self.folder, work):
            path.chmod(0o777)
        user = {"user": NOBODY, "group": NOBODY, "extra_groups": []} if os.geteuid() == 0 else {}
        # it is called from a folder whose way has been closed behind it
        script = 'cd "$1" || exit 9; echo here; read -r line; exec "$2" run pond.yaml --out out --no-charts'
        process = subprocess.Popen(["sh", "-c", script, "sh", str(work), str(program)], stdin=subprocess.PIPE, text=True,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment(), **user)
        self.assertEqual(process.stdout.readline(), "here\n")
        closed.chmod(0o000)
        self.addCleanup(closed.chmod, 0o700)
        stdout, stderr = process.communicate("go\n", timeout=120)
        self.assertEqual(process.returncode, 0, stderr)
        self.assertIn("Verdict", stdout)

    def test_a_folder_that_may_not_be_written(self):
        work = self.prepare("work")
        program = self.folder / "towerloop"
        shutil.copy(PROGRAM, program)
        self.folder.chmod(0o755)
        work.chmod(0o555)
        user = {"user": NOBODY, "group": NOBODY, "extra_groups": []} if os.geteuid() == 0 else {}
        for args in (["run", "pond.yaml", "--no-charts"], ["size", "pond.yaml", "--least", "tower.trays", "--no-charts"],
                     ["compare", "pond.yaml", "--vary", "tower.trays=8,9", "--no-charts"], ["endure", "pond.yaml", "--no-charts"]):
            process = subprocess.run([str(program), *args], cwd=work, capture_output=True, text=True, env=environment(),
                                     stdin=subprocess.DEVNULL, timeout=300, check=False, **user)
            self.expect(process, 1)
            self.assertIn("Permission denied", process.stderr)
        work.chmod(0o755)


class Together(Surroundings):
    def start(self, work, *args):
        return subprocess.Popen([str(PROGRAM), *args], cwd=work, env=without_gnuplot(self.folder), text=True, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE)

    def ends(self, processes):
        return [(*process.communicate(timeout=300), process.returncode) for process in processes]

    LONG = POND.replace("length: 2 d", "length: 60 d")

    def test_beside_each_other(self):
        work = self.prepare("work", self.LONG)
        ended = self.ends([self.start(work, "run", "pond.yaml", "--no-charts", "--out", f"out/{number}") for number in range(4)])
        self.assertEqual([status for _, _, status in ended], [0] * 4, ended)
        self.assertEqual(len({out for out, _, _ in ended}), 1)
        for number in range(1, 4):
            self.assertEqual(tree(work / "out" / "0"), tree(work / "out" / str(number)))

    def test_into_the_same_folder(self):
        """One of them has it, and it is whole; the others say why not. Nothing of theirs is left."""
        for force in ([], ["--force"]):
            with self.subTest(force=force):
                work = self.prepare(f"work{len(force)}", self.LONG)
                self.expect(towerloop("run", "pond.yaml", "--no-charts", "--out", "alone", cwd=work), 0)
                if force:
                    shutil.copytree(work / "alone", work / "out")
                ended = self.ends([self.start(work, "run", "pond.yaml", "--no-charts", "--out", "out", *force) for _ in range(4)])
                self.assertIn(0, [status for _, _, status in ended], ended)
                for _, said, status in ended:
                    self.assertIn(status, (0, 1), said)
                    if status:
                        self.assertIn("out", said)
                self.assertEqual(tree(work / "alone"), tree(work / "out"))
                self.assertEqual(sorted(path.name for path in work.iterdir()), ["alone", "out", "pond.yaml", "readings.csv"])

    def test_studies_in_the_same_folder(self):
        work = self.prepare("work")
        args = ["compare", "pond.yaml", "--vary", "tower.trays=8,9,10,11", "--no-charts"]
        self.expect(towerloop(*args, "--out", "alone", cwd=work, env=without_gnuplot(self.folder)), 0)
        ended = self.ends([self.start(work, *args, "--out", "out") for _ in range(3)])
        for _, said, status in ended:
            self.assertIn(status, (0, 1), said)
        # whoever came when: the same command, called again, ends in the same files
        self.expect(towerloop(*args, "--out", "out", cwd=work, env=without_gnuplot(self.folder)), 0)
        self.assertEqual(tree(work / "alone"), tree(work / "out"))
        self.assertEqual(sorted(path.name for path in work.iterdir()), ["alone", "out", "pond.yaml", "readings.csv"])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
