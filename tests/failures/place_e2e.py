"""The disk is full, standard output is closed, the folder may not be written to, is gone, or is something else.

usage: place_e2e.py PROGRAM CLASS[.METHOD] ...
"""
import fcntl
import json
import os
import resource
import shutil
import subprocess
import time
import unittest

import stand_in
from support import COMMANDS, LEFTOVERS, PROGRAM, Failures, main, tree

SAMPLE = ["water", "temperature=75 degF", "pH=8.4", "ammonia=2 mg/L as N", "--fix", "volume=10 m3"]
# what answers on standard output, without an option that keeps it quiet
ANSWERS = {
    "run": ["run", "day.yaml", "--no-charts", "--out", "o"],
    "check": ["check", "day.yaml"], "check json": ["check", "day.yaml", "--json"],
    "keys": ["keys"], "keys json": ["keys", "--json"], "keys schema": ["keys", "--schema"],
    "water": SAMPLE, "water json": [*SAMPLE, "--json"],
    "log": ["log", "day.yaml"], "log csv": ["log", "day.yaml", "--csv"],
    "lessons": ["lesson"], "help": ["--help"], "version": ["--version"], "run help": ["run", "--help"],
    **{name: [*COMMANDS[name], "--no-charts", "--out", "o"] for name in COMMANDS if name != "run"},
}
FULL = "/dev/full"


class Streams(Failures):
    """Standard output, standard error and standard input."""

    def test_full_output(self):
        for name, arguments in ANSWERS.items():
            with self.subTest(name):
                folder = self.fresh()
                with open(FULL, "wb") as full:
                    status, _, err = self.call(*arguments, folder=folder, stdout=full)
                self.assertEqual(status, 1)
                self.assertIn("could not be written to standard output", err)
                self.assert_clean(folder)

    def test_closed_output(self):
        for name, arguments in ANSWERS.items():
            with self.subTest(name):
                folder = self.fresh()
                status, _, err = self.shell(arguments, ">&-", folder)
                self.assertEqual(status, 1)
                self.assertIn("could not be written to standard output", err)
                self.assert_clean(folder)

    def test_nobody_reads_on(self):
        """`| head -1`: the reader has gone before the answer comes."""
        for name, arguments in ANSWERS.items():
            with self.subTest(name):
                folder = self.fresh()
                ends = os.pipe()
                os.close(ends[0])
                status, _, err = self.call(*arguments, folder=folder, stdout=ends[1])
                os.close(ends[1])
                self.assertEqual(status, 1)
                self.assertIn("could not be written to standard output", err)
                self.assert_clean(folder)

    def shell(self, arguments, redirection, folder):
        return self.call(*arguments, folder=folder, program=("/bin/sh", "-c", f'exec "$@" {redirection}', "sh"))

    def test_results_are_kept_without_an_answer(self):
        wanted = self.fresh()
        self.assertEqual(self.call(*ANSWERS["run"], folder=wanted)[0], 0)
        for redirection in (">&-", ">/dev/full", "2>&-", "2>/dev/full", "<&-", "<&- >&- 2>&-"):
            with self.subTest(redirection):
                folder = self.fresh()
                status, _, _ = self.shell(ANSWERS["run"], redirection, folder)
                self.assertEqual(status, 1 if ">&- 2" in redirection or redirection[:1] == ">" else 0)
                self.assertEqual(tree(folder), tree(wanted), "a file is not what it should be")

    def test_closed_error_and_input(self):
        for redirection in ("2>&-", "2>/dev/full", "<&-"):
            for name, arguments in ANSWERS.items():
                with self.subTest(name, redirection=redirection):
                    folder = self.fresh()
                    status, out, _ = self.shell(arguments, redirection, folder)
                    self.assertEqual(status, 0)
                    self.assertGreater(len(out), 10)
                    self.assert_clean(folder)

    def test_faults_that_cannot_be_told(self):
        (self.folder / "day.yaml").write_text("format: 1\nfoo: bar\n")
        for redirection in ("2>&-", "2>/dev/full"):
            self.assertEqual(self.shell(["run", "day.yaml"], redirection, self.folder)[0], 2)


class Folder(Failures):
    """Where the results should go."""

    def check_refused(self, place, said, program=()):
        for name, arguments in COMMANDS.items():
            with self.subTest(name, place=place):
                before = tree(self.folder)
                status, out, err = self.call(*arguments, "--out", place, program=program)
                self.assertEqual(status, 1, err)
                self.assertTrue(err.startswith("towerloop: ") or name == "lesson", err)
                self.assertRegex(err, said)
                if name != "lesson":  # it has asked its question by then
                    self.assertEqual(out, "")
                self.assertEqual(tree(self.folder), before)

    def test_out_on_a_file(self):
        (self.folder / "o").write_text("mine")
        self.check_refused("o", "o is there already and is no folder")
        self.check_refused("o/below", "Not a directory")

    def test_out_on_a_link(self):
        (self.folder / "elsewhere").mkdir()
        (self.folder / "o").symlink_to("elsewhere")
        self.check_refused("o", "o is there already and is no folder")
        (self.folder / "o").unlink()
        (self.folder / "o").symlink_to("nowhere")
        self.check_refused("o", "o is there already and is no folder")

    def test_left_by_a_run_that_was_killed(self):
        """It is named and left alone; what another run is at work in, or is no such folder, is not named."""
        names = ("o.draft-aB3xYz", "o.old-123456", "o.draft-inuse1", "o.draft-mine", "o.older-123456", "p.draft-aB3xYz")
        for name in names:
            (self.folder / "below" / name).mkdir(parents=True)
            (self.folder / "below" / name / "kept").write_text("mine")
        (self.folder / "below" / "o.draft-afile1").write_text("mine")
        before = tree(self.folder)
        kept = os.open(self.folder / "below" / "o.draft-inuse1", os.O_RDONLY)
        fcntl.flock(kept, fcntl.LOCK_EX)
        for place in ("below/o", str(self.folder / "below" / "o")):
            with self.subTest(place):
                status, _, err = self.call("run", "day.yaml", "--no-charts", "--out", place)
                self.assertEqual(status, 0)
                self.assertEqual(sorted(line for line in err.splitlines() if not line.startswith("Results: ")), [
                    f"towerloop: {place}.draft-aB3xYz is what a run that was killed has left; it may be deleted",
                    f"towerloop: {place}.old-123456 holds earlier results that a run had moved away when it was "
                    "killed; move them back, or delete them"])
                shutil.rmtree(self.folder / "below" / "o")
                self.assertEqual(tree(self.folder), before)
        os.close(kept)

    def test_read_only(self):
        """Root does without what lets it write anywhere."""
        as_others = ()
        if os.geteuid() == 0:
            as_others = (shutil.which("setpriv") or "setpriv", "--bounding-set", "-dac_override,-dac_read_search")
        for place in ("locked", "empty"):
            (self.folder / place).mkdir()
        (self.folder / "locked" / "summary.json").write_text("mine")
        for place in ("locked", "empty"):
            (self.folder / place).chmod(0o555)
            self.addCleanup((self.folder / place).chmod, 0o755)
        self.check_refused("locked/o", "Permission denied", as_others)
        self.check_refused("locked", "locked (has no summary.json|is there already)", as_others)
        self.check_refused("/proc/o", "No such file or directory")

    def test_report_into_a_read_only_folder(self):
        as_others = ()
        if os.geteuid() == 0:
            as_others = (shutil.which("setpriv") or "setpriv", "--bounding-set", "-dac_override,-dac_read_search")
        self.assertEqual(self.call("run", "day.yaml", "--no-charts", "--out", "o")[0], 0)
        (self.folder / "o").chmod(0o555)
        self.addCleanup((self.folder / "o").chmod, 0o755)
        before = tree(self.folder)
        for arguments in (["report", "o"], ["report", "o", "--no-charts"], ["chart", "o"]):
            status, _, err = self.call(*arguments, program=as_others)
            self.assertEqual(status, 1)
            self.assertIn("Permission denied", err)
            self.assertEqual(tree(self.folder), before)
        status, _, err = self.call("report", "o", "--out", "p", program=as_others)
        self.assertEqual((status, err), (0, "Report: p/report.html\n"))

    def test_replaced_by_a_link_meanwhile(self):
        """The folder of the results becomes a link while the run goes on: what it leads to is left alone."""
        text = (self.folder / "day.yaml").read_text()
        (self.folder / "day.yaml").write_text(text.replace("length: 1 d", "length: 1500 d"))
        mine = self.folder / "mine"
        mine.mkdir()
        (mine / "precious").write_text("keep")
        p = subprocess.Popen([PROGRAM, "run", "day.yaml", "--no-charts", "--out", "o"], cwd=self.folder,
                             env=self.environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        while p.poll() is None and not list(self.folder.glob("o.draft-*")):
            time.sleep(0.001)
        (self.folder / "o").symlink_to("mine")
        out, err = p.communicate(timeout=300)
        self.assertEqual((p.returncode, out), (1, b""))
        self.assertIn(b"o is there already and is no folder", err)
        self.assertEqual(os.listdir(mine), ["precious"])
        self.assert_clean(self.folder)

    @unittest.skipUnless(shutil.which("strace"), "needs strace")
    def test_killed_while_results_are_replaced(self):
        """At each call by which files move or go: there are the results of before or the new ones, whole."""
        other = ("run", "day.yaml", "--no-charts", "--out", "o", "--force", "--set", "fish[0].count=20")
        self.assertEqual(self.call(*other)[0], 0)
        new = tree(self.folder / "o")
        self.assertEqual(self.call(*other[:-2])[0], 0)
        before = tree(self.folder / "o")
        self.assertNotEqual(before, new)
        # the leak sanitizer traces, too, and there can be one only
        env = self.environment(ASAN_OPTIONS=os.environ.get("ASAN_OPTIONS", "") + ":detect_leaks=0")
        ends = set()
        for calls in ("rename", "renameat2", "unlink,unlinkat", "rmdir"):
            for n in range(1, 30):
                status = self.call(*other, env=env, program=(
                    shutil.which("strace"), "-f", "-qq", "-o", "/dev/null", "-e", f"trace={calls}", "-e",
                    f"inject={calls}:signal=KILL:when={n}"))[0]
                files = tree(self.folder / "o")
                self.assertIn(files, (before, new), (calls, n))
                ends.add((status == 0, files == new))
                for left in self.folder.glob("o.*"):
                    shutil.rmtree(left)
                self.assertEqual(self.call(*other[:-2])[0], 0)
                if status == 0:
                    break
            self.assertEqual(status, 0)
        self.assertEqual(ends, {(True, True), (False, False), (False, True)})

    def test_many_at_once(self):
        """Runs that replace each other: each ends well, and one of them has left its results, whole and alone."""
        (self.folder / "other.yaml").write_text((self.folder / "day.yaml").read_text().replace("length: 1 d", "length: 2 d"))
        alone = []
        for name in ("day.yaml", "other.yaml"):
            self.assertEqual(self.call("run", name, "--no-charts", "--out", "alone")[0], 0)
            alone.append(tree(self.folder / "alone"))
            shutil.rmtree(self.folder / "alone")
        for _ in range(8):
            runs = [subprocess.Popen([PROGRAM, "run", name, "--no-charts", "--out", "o", "--force"], cwd=self.folder,
                                     env=self.environment(), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
                    for name in ("day.yaml", "other.yaml") * 4]
            for p in runs:
                said = p.communicate(timeout=300)[1].decode()
                self.assertEqual((p.returncode, said), (0, "Results: o\n"))
            self.assertEqual(sorted(set(os.listdir(self.folder)) - {"readings.csv"}), ["day.yaml", "o", "other.yaml"])
            self.assertIn(tree(self.folder / "o"), alone)

    def test_gone_meanwhile(self):
        """The draft, and all above it, is deleted under a run; a study loses its folder."""
        text = (self.folder / "day.yaml").read_text()
        (self.folder / "day.yaml").write_text(text.replace("length: 1 d", "length: 700 d"))
        for name in ("run", "compare", "spread"):
            with self.subTest(name):
                p = subprocess.Popen([PROGRAM, *COMMANDS[name], "--out", "above/o"], cwd=self.folder,
                                     env=self.environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE)
                while p.poll() is None and not list(self.folder.glob("above/o*")):
                    time.sleep(0.001)
                time.sleep(0.05)
                shutil.rmtree(self.folder / "above", ignore_errors=True)
                _, err = p.communicate(timeout=300)
                self.assertEqual(p.returncode, 1, err)
                self.assertTrue(err.startswith(b"towerloop: "), err)
                self.assertIn(b"No such file or directory", err)
                shutil.rmtree(self.folder / "above", ignore_errors=True)


class Disk(Failures):
    """Files may not grow, or the disk has no room; gnuplot itself says that all went well."""

    def check(self, call, least):
        """`call(folder, bytes)` with ever more room, until the command is content."""
        for name, arguments in COMMANDS.items():
            wanted = self.fresh()
            whole = self.call(*arguments, "--out", "o", folder=wanted)
            self.assertEqual(whole[0], 0, whole[2])
            good, room, refused = tree(wanted), least, 0
            while True:
                with self.subTest(name, room=room):
                    status, out, err, files, again = call(arguments, room)
                    if status == 0:
                        self.assertEqual((out, files), (whole[1], good))
                        break
                    refused += 1
                    self.assertEqual(status, 1, err)
                    self.assertRegex(err, "(?m)^towerloop: .*(File too large|No space left|"
                                          "charts could not be drawn|cannot be (written|made))")
                    for file, content in files.items():
                        if file.startswith("o/") and content is not None:
                            self.check_file(file, content, good)
                    if again is not None:
                        self.assertEqual(again, good, "gone on with, it is not the same")
                room = room * 3 // 2
            self.assertGreater(refused, 0, "nothing was refused")

    def check_file(self, file, content, good):
        self.assertFalse(any(word in file for word in LEFTOVERS), file)
        if file == "o/trials.json" or file == "o/study.json":  # these grow, or change at the end
            json.loads(content)
        elif file.endswith(".html"):  # it says which pictures there are not
            self.assertTrue(content.endswith(b"</html>\n"), f"{file} is not whole")
        else:
            self.assertEqual(content, good.get(file), f"{file} is not whole")

    def test_files_may_not_grow(self):
        def call(arguments, room):
            folder = self.fresh()
            status, out, err = self.call(
                *arguments, "--out", "o", folder=folder,
                preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (room, room)))
            files = tree(folder)
            return status, out, err, files, self.go_on(arguments, folder, files)

        self.check(call, 600)

    def go_on(self, arguments, folder, files):
        """A study goes on from there once there is room."""
        if "o/study.json" not in files:
            return None
        self.call(*arguments, "--out", "o", folder=folder)
        return tree(folder)

    def test_small_disk(self):
        mount = ("unshare", "-rm", "/bin/sh", "-c",
                 'd=$1; /bin/mount -t tmpfs -o size=$2k tmpfs "$d" && /bin/cp "$d"/../*.* "$d" && cd "$d" || exit 99\n'
                 'shift 2; "$@"; s=$?; /bin/cp -r . "$d/../kept"; exit $s', "sh")
        unshare = shutil.which("unshare")
        place = self.fresh()
        (place / "disk").mkdir()
        trial = unshare and subprocess.run([unshare, *mount[1:], place / "disk", "100", "/bin/true"],
                                           capture_output=True, check=False)
        if not trial or trial.returncode:
            self.skipTest("a disk may not be mounted here: " + (trial.stderr.decode() if trial else "no unshare"))
        stand_in.put(self.path, stand_in.WAYS["draws as far as it can"])

        def call(arguments, room):
            folder = self.fresh()
            (folder / "disk").mkdir()
            status, out, err = self.call(*arguments, "--out", "o", folder=folder, program=(
                unshare, *mount[1:], folder / "disk", str(room // 1024)))
            files = tree(folder / "kept")
            return status, out, err, files, self.go_on(arguments, folder / "kept", files)

        self.check(call, 48 << 10)


if __name__ == "__main__":
    main()
