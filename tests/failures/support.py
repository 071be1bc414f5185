"""What the tests of failures have in common: the program in a folder of its own, with a stand-in for gnuplot."""
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

sys.dont_write_bytecode = True
import stand_in  # noqa: E402
from alloc_e2e import DAY, READINGS, tree  # noqa: E402

PROGRAM = os.path.abspath(sys.argv[1]) if len(sys.argv) > 1 else None
FEW = ["--threads", "2"]
# name: arguments; each makes a folder o with charts
COMMANDS = {
    "run": ["run", "day.yaml", "--report"],
    "compare": ["compare", "day.yaml", "--vary", "fish[0].count=10,20", "--report", *FEW],
    "size": ["size", "day.yaml", "--most", "fish[0].count", *FEW],
    "endure": ["endure", "day.yaml", *FEW],
    "fit": ["fit", "day.yaml", "readings.csv", "--fit", "parameters.mu_aob"],
    "spread": ["spread", "day.yaml", "--runs", "20", *FEW],
    "lesson": ["lesson", "ph"],
}
# what they leave when they are done, pictures and pages apart
LEFTOVERS = (".partial", ".draft-", ".old-", ".drawing-", ".charts-")


def results(files):
    """What is not drawn, nor made of what is drawn."""
    return {n: b for n, b in files.items() if "charts" not in n.split("/") and not n.endswith(".html")}


class Failures(unittest.TestCase):
    maxDiff = 2000

    def setUp(self):
        place = tempfile.TemporaryDirectory()
        self.addCleanup(place.cleanup)
        self.top = pathlib.Path(place.name)
        self.path = stand_in.put(self.top / "path", stand_in.WAYS["draws"])
        self.number = 0
        self.folder = self.fresh()

    def fresh(self, inside=None):
        """A folder with what the commands read."""
        self.number += 1
        folder = (inside or self.top) / f"work{self.number}"
        folder.mkdir()
        (folder / "day.yaml").write_text(DAY)
        (folder / "readings.csv").write_text(READINGS)
        return folder

    def environment(self, **more):
        env = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG"))}
        return env | {"PATH": self.path} | more

    def call(self, *arguments, folder=None, program=(), **options):
        given = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE,
                 "env": self.environment()} | options
        p = subprocess.run([*program, PROGRAM, *arguments], cwd=folder or self.folder,
                           encoding="utf-8", errors="replace", timeout=600, check=False, **given)
        return p.returncode, p.stdout, p.stderr

    def assert_clean(self, folder):
        left = [n for n in tree(folder) if any(word in n for word in LEFTOVERS)]
        self.assertEqual(left, [], "something half-written is left")


def main(first=2):
    unittest.main(argv=[sys.argv[0], *sys.argv[first:]])
