"""End-to-end tests of what stands on a terminal while a long run goes on.

usage: progress_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import os
import pty
import re
import signal
import subprocess
import sys
import time
import unittest

sys.dont_write_bytecode = True
from run_e2e import ESCAPE, PROGRAM, SCENARIOS, SMALL, EndToEnd, read_summary, without_gnuplot  # noqa: E402

# Ten years of it, reckoned needlessly well: always longer than a test waits.
LONG = (SMALL.replace("length: 3 d", "length: 3660 d").replace("every: 1 h", "every: 1 d")
        .replace("trays: 8", "trays: 40"))
ENDLESSLY = ["--rtol", "1e-10"]

SAID = re.compile(r"\r(simulating: \d+ %|looking for what helps: lever \d+ of \d+|drawing the charts) *")


class Terminal:
    """The program with stderr, or both outputs, on a pseudo terminal."""

    def __init__(self, *args, env, both=False):
        self.end, theirs = pty.openpty()
        self.process = subprocess.Popen([str(PROGRAM), *map(str, args)], stdin=subprocess.DEVNULL,
                                        stdout=theirs if both else subprocess.PIPE, stderr=theirs,
                                        env=env)
        os.close(theirs)
        self.text = ""

    def read_until(self, pattern=None):
        """What stands there so far; to the end without a pattern."""
        while not (pattern and re.search(pattern, self.text)):
            try:
                some = os.read(self.end, 65536)
            except OSError:  # nobody writes to it any more
                break
            if not some:
                break
            self.text += some.decode("utf-8")
        return self.text

    def interrupt(self):
        self.process.send_signal(signal.SIGINT)
        return self.finish()

    def finish(self):
        self.read_until()
        stdout = self.process.stdout.read().decode("utf-8") if self.process.stdout else ""
        os.close(self.end)
        if self.process.stdout:
            self.process.stdout.close()
        return self.process.wait(timeout=120), stdout


def on_screen(text):
    """The lines that are left to see after all that was written over."""
    lines, column = [""], 0
    for character in text:
        if character == "\r":
            column = 0
        elif character == "\n":
            lines.append("")
        else:
            line = lines[-1].ljust(column)
            lines[-1] = line[:column] + character + line[column + 1:]
            column += 1
    return [line.rstrip() for line in lines]


class Progress(EndToEnd):
    def setUp(self):
        super().setUp()
        self.out = self.folder / "out"

    def start(self, *args, text=LONG, terminal="xterm", **changes):
        env = dict(without_gnuplot(self.folder), TERM=terminal, **changes)
        return Terminal("run", self.write(text), "--out", self.out, *args, env=env)

    def test_a_long_run_says_how_far_it_is(self):
        run = self.start(*ENDLESSLY)
        run.read_until(r"simulating: \d+ %[^%]*\rsimulating: \d+ %")
        status, stdout = run.interrupt()
        self.assertEqual(status, 130, run.text)
        self.assertEqual(stdout, "")
        shares = [int(share) for share in re.findall(r"simulating: (\d+) %", run.text)]
        self.assertEqual(shares, sorted(set(shares)))
        self.assertLessEqual(shares[-1], 100)
        self.assertEqual(on_screen(run.text), [""], "the line is cleared")
        self.assertNotIn("\n", run.text)

    def test_the_line_is_gone_before_the_answer(self):
        run = self.start(text=LONG.replace("3660 d", "700 d").replace("count: 12", "count: 90"))
        status, stdout = run.finish()
        self.assertEqual(status, 0, run.text)
        self.assertIn("Verdict", stdout)
        self.assertNotIn("\r", stdout)
        seen = on_screen(run.text)
        self.assertRegex(seen[0], "gnuplot is missing")
        self.assertEqual(seen[1:], [f"Results: {self.out}", ""])
        # nothing but lines written over each other, blanks and the way back
        rest = SAID.sub("", run.text)
        self.assertRegex(rest, r"\A(\r +\r)*towerloop: [^\r]*\r\nResults: [^\r]*\r\n\Z")
        for line in SAID.findall(run.text):
            self.assertLess(len(line), 60)

    def test_levers_are_counted(self):
        run = self.start(text=LONG.replace("count: 12", "count: 90"))
        run.read_until(r"lever \d+ of[^:]*: lever \d+ of")
        status, _ = run.interrupt()
        self.assertEqual(status, 130, run.text)
        # the first ones may be over before it is worth a word
        levers = [int(lever) for lever in re.findall(r"lever (\d+) of \d+", run.text)]
        self.assertEqual(levers, list(range(levers[0], levers[-1] + 1)))
        self.assertEqual(len(set(re.findall(r"lever \d+ of (\d+)", run.text))), 1)

    def test_nothing_where_it_would_not_help(self):
        for args, changes in ((["--quiet"], {}), ([], {"terminal": "dumb"}), ([], {"terminal": ""})):
            run = self.start(*ENDLESSLY, *args, **changes)
            time.sleep(1.5)
            status, _ = run.interrupt()
            self.assertEqual((status, run.text), (130, ""), (args, changes))

    def test_nothing_when_piped(self):
        process = subprocess.Popen([str(PROGRAM), "run", str(self.write(LONG)), "--out", str(self.out), *ENDLESSLY],
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                   env=dict(without_gnuplot(self.folder), TERM="xterm"))
        time.sleep(1.5)
        process.send_signal(signal.SIGINT)
        self.assertEqual(process.communicate(timeout=120), (b"", b""))
        self.assertEqual(process.returncode, 130)

    def test_no_escape_bytes_on_any_terminal(self):
        """There is no colour, so NO_COLOR (https://no-color.org) cannot but hold."""
        for number, changes in enumerate(({}, {"NO_COLOR": "1"}, {"CLICOLOR_FORCE": "1"})):
            env = dict(without_gnuplot(self.folder), TERM="xterm-256color", **changes)
            for args in (["--help"], ["swim"], ["keys"], ["run", "--wet"],
                         ["run", SCENARIOS / "stocking-increase.yaml", "--out", self.folder / str(number)],
                         ["chart", self.folder]):
                run = Terminal(*args, env=env, both=True)
                run.finish()
                self.assertGreater(len(run.text), 10, args)
                self.assertNotIn(ESCAPE, run.text, args)
                self.assertNotRegex(run.text, r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", args)

    def test_watching_changes_no_figure(self):
        self.assertEqual(self.start(text=SMALL).finish()[0], 0)
        watched = read_summary(self.out)
        self.expect(self.run_small(out="piped"), 0)
        self.assertEqual(watched, read_summary(self.folder / "piped"))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
