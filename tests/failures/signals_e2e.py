"""The program is killed or interrupted at random moments; what is gone on with ends in the same files.

usage: signals_e2e.py PROGRAM CLASS[.METHOD] ...

The moments come from a fixed seed; TOWERLOOP_SEED takes another, TOWERLOOP_KILLS how often each is killed.
"""
import os
import pathlib
import random
import shutil
import signal
import subprocess
import time

from support import COMMANDS, LEFTOVERS, PROGRAM, Failures, main, tree

SEED = int(os.environ.get("TOWERLOOP_SEED", "20270601"))
KILLS = int(os.environ.get("TOWERLOOP_KILLS", "12"))
# long enough to be killed in the middle
LONGER = {"run": 700, "compare": 400, "size": 30, "endure": 3, "fit": 3, "spread": 3, "lesson": 1}


class Signals(Failures):
    """Each command that leaves a folder."""

    def start(self, folder, name, *more):
        return subprocess.Popen([PROGRAM, *COMMANDS[name], "--out", "o", *more], cwd=folder, env=self.environment(),
                                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)

    def finish(self, p):
        out, err = p.communicate(timeout=600)
        return p.returncode, out, err

    def prepare(self, name):
        folder = self.fresh()
        day = folder / "day.yaml"
        day.write_text(day.read_text().replace("length: 1 d", f"length: {LONGER[name]} d"))
        return folder

    def check(self, numbers, name):
        """Stops it at a random moment, again and again; in the end it is left alone."""
        wanted = self.prepare(name)
        begin = time.monotonic()
        status, answer, err = self.finish(self.start(wanted, name))
        lasts = time.monotonic() - begin
        self.assertEqual(status, 0, err)
        good = tree(wanted)
        chance = random.Random(f"{SEED} {name}")
        folder = self.prepare(name)
        stopped = 0
        for _ in range(KILLS):
            number, before = chance.choice(numbers), tree(folder)
            p = self.start(folder, name, *(["--force"] if name == "run" else []))
            time.sleep(lasts * chance.random())
            p.send_signal(number)
            status, out, err = self.finish(p)
            if status == -number and number != signal.SIGKILL:  # it had not begun to listen
                self.assertEqual((tree(folder), out, err), (before, b"", b""))
                continue
            stopped += status != 0
            self.assertIn(status, (0, -number if number == signal.SIGKILL else 130), err)
            files = tree(folder)
            if number != signal.SIGKILL:
                self.assertEqual([n for n in files if any(word in n for word in LEFTOVERS)], [])
                self.assertIn(out, (b"", answer) if name != "lesson" else (out,))
            for file, content in files.items():
                self.check_file(name, file, content, good)
        self.assertGreater(stopped, 0, "it was never stopped in the middle")
        status, out, err = self.finish(self.start(folder, name, *(["--force"] if name == "run" else [])))
        self.assertEqual((status, out), (0, answer), err)
        for draft in folder.glob("o.*-??????"):  # a run that is killed leaves its draft beside its place
            self.assertEqual(name, "run")
            if any(draft.iterdir()):  # an empty one may be that of a run that begins
                self.assertIn(f"towerloop: {draft.name} is what a run that was killed has left".encode(), err)
            shutil.rmtree(draft)
        self.assertEqual(tree(folder), good)
        # all of it is known as its own: it may be replaced
        status, out, err = self.finish(self.start(folder, name, "--force"))
        self.assertEqual((status, out, tree(folder)), (0, answer, good), err)

    def check_file(self, name, file, content, good):
        """Under its own name a file is whole, or one that grows, or that changes at the end."""
        if any(word in file for word in LEFTOVERS) or content is None or not file.startswith("o/"):
            return
        if file.split("/")[-1] in ("trials.json", "study.json") or file.startswith("o/runs/"):
            return
        if file.endswith(".html"):
            self.assertTrue(content.endswith(b"</html>\n"), file)
            return
        self.assertEqual(content, good[file], f"{name}: {file} is not whole")

    def test_seed_is_told(self):
        print(f"TOWERLOOP_SEED={SEED} TOWERLOOP_KILLS={KILLS}")


class Killed(Signals):
    def check_killed(self, name):
        self.check([signal.SIGKILL], name)


class Interrupted(Signals):
    def check_killed(self, name):
        self.check([signal.SIGINT, signal.SIGTERM], name)


def add_tests():
    for case in (Killed, Interrupted):
        for name in COMMANDS:
            setattr(case, f"test_{name}", lambda self, name=name: self.check_killed(name))


def cpu_s(pid):
    field = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(field[11]) + int(field[12])) / os.sysconf("SC_CLK_TCK")


class Promptly(Failures):
    """Outside of the solver, too: a long table of a run is not read to its end first. Measured in the
    processor's time, and by what the same command takes if it is left alone."""

    def begin(self, arguments):
        return subprocess.Popen([PROGRAM, *arguments], cwd=self.folder, env=self.environment(),
                                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)

    def end(self, p):
        err = p.stderr.read()
        p.stderr.close()
        _, status, used = os.wait4(p.pid, 0)
        p.returncode = os.waitstatus_to_exitcode(status)
        return p.returncode, used.ru_utime + used.ru_stime, err

    def test_while_a_long_table_is_read(self):
        day = self.folder / "day.yaml"
        day.write_text(day.read_text().replace("length: 1 d", "length: 2000 d").replace(
            "every: 1 h", "every: 15 min"))
        self.assertEqual(self.call("run", "day.yaml", "--no-charts", "--out", "o")[0], 0)
        for arguments in (["chart", "o", "--out", "p"], ["report", "o", "--no-charts", "--out", "p"],
                          ["report", "o", "--out", "p"]):
            with self.subTest(arguments):
                status, whole_s, err = self.end(self.begin(arguments))
                self.assertEqual(status, 0, err)
                shutil.rmtree(self.folder / "p")
                before = tree(self.folder)
                for share in (0.1, 0.3, 0.5):
                    p = self.begin(arguments)
                    while cpu_s(p.pid) < share * whole_s:
                        time.sleep(0.002)
                    p.send_signal(signal.SIGTERM)
                    at_s = cpu_s(p.pid)
                    status, used_s, err = self.end(p)
                    self.assertEqual((status, err), (130, b""))
                    self.assertLess(used_s - at_s, 0.3 * whole_s)
                    self.assertEqual(tree(self.folder), before)

    def test_what_only_prints(self):
        """Its answer waits for a reader who does not come."""
        ends = os.pipe()
        p = subprocess.Popen([PROGRAM, "keys", "--schema"], stdout=ends[1], stderr=subprocess.PIPE,
                             env=self.environment())
        os.close(ends[1])
        for _ in range(2000):
            if pathlib.Path(f"/proc/{p.pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "S":
                break
            time.sleep(0.01)
        p.send_signal(signal.SIGTERM)
        self.assertEqual(p.communicate(timeout=300)[1], b"")
        self.assertEqual(p.returncode, 130)
        os.close(ends[0])


add_tests()
if __name__ == "__main__":
    main()
