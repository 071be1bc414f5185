"""gnuplot is missing, fails, dies, hangs, or writes half a picture and says that all went well.

usage: gnuplot_e2e.py PROGRAM CLASS[.METHOD] ...

The numbers of the command survive, its exit status is 1 (0 where gnuplot is missing), a message says what
happened, and neither a child, half a picture nor a folder of the drawing is left.
"""
import os
import pathlib
import signal
import subprocess
import time

import stand_in
from support import COMMANDS, PROGRAM, Failures, main, results, tree

FAILED = 'towerloop: the charts could not be drawn: gnuplot failed: "main.gp" line 7: no such luck'
# way: what is said
SAID = {
    "fails": FAILED,
    "fails after drawing": FAILED,
    "dies": "towerloop: the charts could not be drawn: gnuplot failed",
    "dies after drawing": "towerloop: the charts could not be drawn: gnuplot failed",
    "draws nothing": "towerloop: the charts could not be drawn: gnuplot's picture ",
    "draws empty pictures": "was not written",
    "cuts SVG": "is cut short",
    "cuts PNG": "is cut short",
}


def is_gone(pid):
    try:
        return ") Z" in pathlib.Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return True


class Ways(Failures):
    def check(self, command):
        wanted = self.fresh()
        self.assertEqual(self.call(*COMMANDS[command], "--no-charts", "--out", "o", folder=wanted)[0], 0)
        numbers = results(tree(wanted))
        drawn = self.fresh()
        status, out, err = self.call(*COMMANDS[command], "--out", "o", folder=drawn)
        self.assertEqual(status, 0, err)
        pictures = {n: b for n, b in tree(drawn).items() if n.endswith((".png", ".svg"))}
        self.assertGreater(len(pictures), 0)
        self.assertEqual(results(tree(drawn)), numbers)
        for way, said in SAID.items():
            with self.subTest(command=command, way=way):
                stand_in.put(self.path, stand_in.WAYS[way])
                folder = self.fresh()
                status, told, err = self.call(*COMMANDS[command], "--out", "o", folder=folder)
                files = tree(folder)
                self.assertEqual((status, told), (1, out), err)
                self.assertIn(said, err)
                self.assertEqual(results(files), numbers)
                self.assert_clean(folder)
                for name, picture in files.items():
                    if name.endswith((".png", ".svg")):
                        self.assertEqual(picture, pictures[name], name)
        with self.subTest(command=command, way="missing"):
            os.remove(pathlib.Path(self.path) / "gnuplot")
            folder = self.fresh()
            status, told, err = self.call(*COMMANDS[command], "--out", "o", folder=folder)
            self.assertEqual((status, told), (0, out), err)
            self.assertIn("gnuplot is missing", err)
            self.assertEqual(results(tree(folder)), numbers)
            self.assert_clean(folder)

    def test_run(self):
        self.check("run")

    def test_compare(self):
        self.check("compare")

    def test_size(self):
        self.check("size")

    def test_endure(self):
        self.check("endure")

    def test_fit(self):
        self.check("fit")

    def test_spread(self):
        self.check("spread")

    def test_lesson(self):
        self.check("lesson")

    def test_what_it_complains_of_without_end_is_no_hindrance(self):
        stand_in.put(self.path, stand_in.WAYS["talks"])
        status, _, err = self.call("run", "day.yaml", "--out", "o")
        self.assertEqual((status, err), (0, "Results: o\n"))


class Report(Failures):
    """`report` and `chart` of a run that has its charts: what was there stays."""

    def test_what_was_there_stays(self):
        self.assertEqual(self.call("run", "day.yaml", "--out", "o", "--report")[0], 0)
        before = tree(self.folder)
        for way, said in SAID.items():
            stand_in.put(self.path, stand_in.WAYS[way])
            with self.subTest(way=way, command="chart"):
                status, _, err = self.call("chart", "o")
                self.assertEqual(status, 1)
                self.assertIn(said, err)
                self.assertEqual({n: b for n, b in tree(self.folder).items() if before[n] != b}, {})
            if way == "cuts PNG":  # a report has SVG alone
                continue
            with self.subTest(way=way, command="report"):
                folder = self.fresh()
                status, _, err = self.call("report", "../work1/o", "--out", "p", folder=folder)
                self.assertEqual(status, 1)
                self.assertIn(said, err)
                self.assertIn(b"No charts: gnuplot is missing or could not draw.",
                              (folder / "p" / "report.html").read_bytes())
                self.assert_clean(folder)
                self.assertEqual(tree(self.folder), before)


class Hangs(Failures):
    """For a minute: it is killed then, with all it has started."""

    def setUp(self):
        super().setUp()
        stand_in.put(self.path, stand_in.HANGS)

    def pids(self):
        return [int(word) for word in (pathlib.Path(self.path) / "pids").read_text().split()]

    def assert_gone(self):
        for pid in self.pids():
            for _ in range(600):
                if is_gone(pid):
                    break
                time.sleep(0.1)
            else:
                self.fail(f"{pid} is left")

    def test_run(self):
        wanted = self.fresh()
        self.assertEqual(self.call("run", "day.yaml", "--no-charts", "--out", "o", folder=wanted)[0], 0)
        status, _, err = self.call("run", "day.yaml", "--out", "o")
        self.assertEqual(status, 1)
        self.assertIn("gnuplot did not finish within 60 s and was stopped", err)
        self.assertEqual(tree(self.folder), tree(wanted))
        self.assert_gone()

    def test_interrupted(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            for command in ("run", "compare", "spread"):
                with self.subTest(number=number, command=command):
                    (pathlib.Path(self.path) / "pids").unlink(missing_ok=True)
                    folder = self.fresh()
                    p = subprocess.Popen([PROGRAM, *COMMANDS[command], "--out", "o"], cwd=folder,
                                         env=self.environment(), stdin=subprocess.DEVNULL,
                                         stdout=subprocess.PIPE, stderr=subprocess.PIPE)
                    while p.poll() is None and not (pathlib.Path(self.path) / "pids").exists():
                        time.sleep(0.01)
                    time.sleep(0.1)
                    p.send_signal(number)
                    out, err = p.communicate(timeout=120)
                    self.assertEqual((p.returncode, out), (130, b""), err)
                    self.assert_gone()
                    self.assert_clean(folder)
                    if command == "run":
                        self.assertFalse((folder / "o").exists())


if __name__ == "__main__":
    main()
