"""How many small faults in the chemistry and the model do the tests notice?

usage: mutants.py [--count N] [--seed N] [--jobs N] [--keep FOLDER] [--again]

Lists every site in src/chem and src/model where a fault can be made mechanically:
    a number        10 % larger, 10 % smaller (where the compiler wants a whole number: 1 more, 1 less)
    + or -          the other one, between two operands
    a comparison    its opposite
Draws COUNT of them by a fixed seed. Each is made in a copy of the last commit, built, and the fast
tests run until one fails. What does not compile is no fault of the program: another is drawn.
Writes SURVIVORS.md beside this file: the figure, and each fault that no test noticed with an argument.
Arguments written there by hand are kept. Equivalent faults count as survivors. After tests were
added, --again tries only the survivors once more and corrects the figure.

Run by hand: 200 faults take about half an hour on two cores.
"""

import argparse
import collections
import concurrent.futures
import io
import pathlib
import queue
import random
import re
import subprocess
import tarfile
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
REPORT = pathlib.Path(__file__).resolve().parent / "SURVIVORS.md"
SECONDS = 60  # for the tests of one fault; what takes longer is caught

# cheapest first: program in the build folder, arguments; {data} is the folder of published values
TESTS = [
    ("test_chem", []), ("test_model", []), ("test_process", []), ("test_film", []), ("test_tower", []),
    ("test_ledger", []), ("test_hello", []), ("test_engine", []), ("outside/outside", ["{data}"]),
    ("test_advice", []), ("property/test_property", ["40", "1"]), ("test_section10", []),
]

Site = collections.namedtuple("Site", "file start end new what")

NUMBER = r"(?<![\w.])(?:\d+\.\d*|\.\d+|\d+)(?:[eE][+-]?\d+)?(?![\w.])"
OPPOSITE = {"<": ">=", ">": "<=", "<=": ">", ">=": "<", "==": "!=", "!=": "=="}


def blanked(text):
    """The text with comments, strings and lines that only include something made blank."""
    blank = lambda match: re.sub(r"[^\n]", " ", match.group(0))
    return re.sub(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])+\'|^#\s*(?:include|if|endif|undef)[^\n]*',
                  blank, text, flags=re.DOTALL | re.MULTILINE)


def sites_of(root, path):
    name = str(path.relative_to(root))
    code = blanked(path.read_text(encoding="utf-8"))
    for match in re.finditer(NUMBER, code):
        if float(match.group(0)) != 0:
            for factor in ("1.1", "0.9"):
                yield Site(name, match.start(), match.end(), f"({match.group(0)} * {factor})", "number")
    # a sign between two operands: something that ends one stands before it
    for match in re.finditer(r"(?<=[\w)\]]) *([+-])(?![+\-=>])", code):
        before = code[:match.start(1)].rstrip()
        if before[-1] not in "+-" and not re.search(r"\b(?:return|case)$", before) and \
                not re.search(r"(?<![\w.])[\d.]+[eE]$", before):
            yield Site(name, match.start(1), match.end(1), "-" if match.group(1) == "+" else "+", "sign")
    for match in re.finditer(r"(?<![<>=!\-])(<=|>=|==|!=|<|>)(?![<>=])", code):
        yield Site(name, match.start(1), match.end(1), OPPOSITE[match.group(1)], "comparison")


def whole_number(site, old):
    """The same site for a place where only a whole number can stand."""
    if site.what != "number" or not re.fullmatch(r"\d+", old):
        return None
    return site._replace(new=str(int(old) + (1 if "1.1" in site.new else -1)))


class Tree:
    """A copy of the project and its build."""

    def __init__(self, folder, archive):
        self.source = folder / "source"
        self.build = folder / "build"
        with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
            tar.extractall(self.source)
        subprocess.run(["meson", "setup", str(self.build), str(self.source), "--buildtype=plain",
                        "-Dc_args=-O1 -Werror=conversion -Werror=float-conversion"],
                       check=True, capture_output=True)
        self.make()
        caught = self.tests()
        if caught:
            raise SystemExit(f"without any fault {caught[0]} fails: {caught[1]}")

    def make(self):
        targets = ["tests/" + name for name, _ in TESTS]
        return subprocess.run(["ninja", "-C", str(self.build), *targets], capture_output=True).returncode

    def tests(self):
        """The first test that fails and how, or None."""
        end = time.monotonic() + SECONDS
        for name, arguments in TESTS:
            command = [str(self.build / "tests" / name)]
            command += [a.format(data=self.source / "tests" / "data") for a in arguments]
            try:
                run = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                                     cwd=self.source, timeout=max(end - time.monotonic(), 0.1))
            except subprocess.TimeoutExpired:
                return name, "too slow"
            if run.returncode != 0:
                return name, "fails" if run.returncode > 0 else f"signal {-run.returncode}"
        return None

    def try_out(self, site):
        """(verdict, by what, the fault made)"""
        path = self.source / site.file
        text = path.read_text(encoding="utf-8")
        try:
            for fault in (site, whole_number(site, text[site.start:site.end])):
                if fault is None:
                    continue
                path.write_text(text[:fault.start] + fault.new + text[fault.end:], encoding="utf-8")
                if self.make() == 0:
                    caught = self.tests()
                    return ("caught" if caught else "survived"), caught, fault
            return "does not compile", None, site
        finally:
            path.write_text(text, encoding="utf-8")


def describe(site, text):
    """Place and change."""
    start = text.rfind("\n", 0, site.start) + 1
    end = text.find("\n", site.end)
    old = text[start:end].strip()
    new = (text[start:site.start] + site.new + text[site.end:end]).strip()
    line = text.count("\n", 0, start) + 1
    return f"`{site.file}:{line}`: `{old}` → `{new}`"


def old_arguments():
    if not REPORT.exists():
        return {}
    rows = re.findall(r"^- (`.*`)\n  (.*)$", REPORT.read_text(encoding="utf-8"), re.MULTILINE)
    return dict(rows)


def earlier_run():
    """Of the report: options, sites, faults made, not compiled; caught by which test; survivors."""
    text = REPORT.read_text(encoding="utf-8")
    number = [int(n) for n in re.search(
        r"--count (\d+) --seed (\d+)`: of (\d+) faults .*?, (\d+) were drawn .*?\((\d+) more", text).groups()]
    by = re.search(r"^Caught first by: (.*)\.$", text, re.MULTILINE).group(1)
    caught_by = collections.Counter({name: int(n) for n, name in (row.split() for row in by.split(", "))})
    return number, caught_by, list(old_arguments())


def write_report(options, sites, drawn, survivors, skipped, caught_by):
    caught = drawn - len(survivors)
    arguments = old_arguments()
    lines = ["# What the tests do not notice", "",
             f"`tests/mutants/mutants.py --count {options.count} --seed {options.seed}`: of {sites} faults "
             f"that can be made in `src/chem` and `src/model`, {drawn} were drawn and made one by one "
             f"({skipped} more did not compile); {caught} were caught, "
             f"**{100 * caught / max(drawn, 1):.1f} %**.", "",
             "Caught first by: " + ", ".join(f"{n} {name}" for name, n in caught_by.most_common()) + ".", "",
             "The survivors, equivalent ones among them:", ""]
    for where in sorted(survivors):
        lines += [f"- {where}", f"  {arguments.get(where, 'No argument yet.')}"]
    REPORT.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--keep", help="folder for the copies, kept afterwards")
    parser.add_argument("--again", action="store_true", help="only the survivors of the report")
    options = parser.parse_args()

    archive = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, check=True,
                             capture_output=True).stdout
    with tempfile.TemporaryDirectory() as temporary:
        base = pathlib.Path(options.keep or temporary)
        trees = queue.Queue()
        for i in range(options.jobs):
            trees.put(Tree(base / f"copy{i}", archive))
        with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
            tar.extractall(base / "as it is")
        root = base / "as it is"
        sites = [site for folder in ("chem", "model")
                 for path in sorted((root / "src" / folder).glob("*.[ch]")) for site in sites_of(root, path)]
        print(f"{len(sites)} sites", flush=True)

        def place(fault):
            return describe(fault, (root / fault.file).read_text(encoding="utf-8"))

        if options.again:
            (options.count, options.seed, _, drawn, skipped), caught_by, old = earlier_run()
            faults = [fault for site in sites
                      for fault in (site, whole_number(site, (root / site.file).read_text(
                          encoding="utf-8")[site.start:site.end])) if fault]
            order = [fault for fault in faults if place(fault) in old]
            if sorted(map(place, order)) != sorted(old):
                raise SystemExit("the code has changed since: run all of it")
            wanted = drawn
            drawn -= len(old)
        else:
            order = list(sites)
            random.Random(options.seed).shuffle(order)
            drawn, skipped, caught_by, wanted = 0, 0, collections.Counter(), options.count
        survivors = []

        def one(site):
            tree = trees.get()
            try:
                return tree.try_out(site)
            finally:
                trees.put(tree)

        with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
            while drawn < wanted and order:
                batch = [order.pop(0) for _ in range(min(wanted - drawn, len(order)))]
                for future in [pool.submit(one, site) for site in batch]:
                    verdict, caught, fault = future.result()
                    if verdict == "does not compile":
                        skipped += 1
                        continue
                    drawn += 1
                    if caught:
                        caught_by[caught[0].rpartition("/")[2]] += 1
                    else:
                        survivors.append(place(fault))
                    print(f"{drawn:4d} {verdict:9s} {caught[0] if caught else '':22s} {place(fault)}",
                          flush=True)
                    if not options.again:
                        write_report(options, len(sites), drawn, survivors, skipped, caught_by)
    write_report(options, len(sites), drawn, survivors, skipped, caught_by)
    print(f"{drawn - len(survivors)} of {drawn} caught")


if __name__ == "__main__":
    main()
