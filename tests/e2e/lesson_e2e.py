"""End-to-end tests of `towerloop lesson`: the lessons that are shipped, the question, the page, the reader.

usage: lesson_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import html.parser
import json
import os
import pathlib
import pty
import re
import shlex
import shutil
import signal
import subprocess
import sys
import unittest

sys.dont_write_bytecode = True
from run_e2e import (PROGRAM, ROOT, EndToEnd, column, environment, read_series, read_summary,  # noqa: E402
                     towerloop, without_gnuplot)

LESSONS = ROOT / "scenarios" / "lessons"
NAMES = ["cycling", "nitrite", "air", "alkalinity", "seeding", "pump", "ph"]
RIGHT = {"cycling": "in the fifth week or later", "nitrite": "more than a week later", "air": "much more in open air",
         "alkalinity": "it falls far below that of the source water",
         "seeding": "lower peaks, and the filter is ready weeks sooner", "pump": "lack of oxygen",
         "ph": "those in hard water, whose pH is higher"}
TAN, NO2, NO3, O2 = "tank_tan_mgN_L", "tank_no2_mgN_L", "tank_no3_mgN_L", "tank_o2_mg_L"
NH3, PH, ALKALINITY = "tank_nh3_mgN_L", "tank_ph", "tank_alkalinity_mgCaCO3_L"


class Page(html.parser.HTMLParser):
    """Elements of a page, whether each is closed where it should be, and the words in and out of <details>."""
    VOID = {"meta", "br"}

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.faults, self.elements, self.attributes = [], [], [], []
        self.shown, self.folded = "", ""
        self.feed(text)
        self.close()
        self.faults += self.open

    def handle_starttag(self, tag, attrs):
        self.elements.append(tag)
        self.attributes += attrs
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        if "style" in self.open:
            return
        if "details" in self.open and "summary" not in self.open:
            self.folded += data
        else:
            self.shown += data


def when(rows, name, pick):
    values = column(rows, name)
    return float(rows[values.index(pick(values))]["time_d"])


def between(rows, start, end):
    return [row for row in rows if start <= float(row["time_d"]) <= end]


def at(rows, name, day):
    return float(min(rows, key=lambda row: abs(float(row["time_d"]) - day))[name])


class Shows:
    """What each lesson teaches, looked for in the rows of its own runs, apart from the program's own checks."""

    @staticmethod
    def cycling(test, runs, figures):
        rows = runs["cycling"]
        peaks = [when(rows, TAN, max), when(rows, NO2, max)]
        test.assertLess(peaks[0] + 7, peaks[1], "nitrite has its peak a week after ammonia or later")
        test.assertGreater(column(rows, NO3)[-1], 4 * column(rows, NO3)[0])
        late = [row for row in rows if float(row["time_d"]) > figures["ready"]]
        test.assertLess(max(column(late, TAN)), 1)
        test.assertLess(max(column(late, NO2)), 0.5)
        for name, figure in ((TAN, "tan_after"), (NO2, "no2_after"), (NH3, "nh3_after")):
            test.assertAlmostEqual(figures[figure], max(column(late, name)), places=9)
        test.assertAlmostEqual(figures["tan_peak"], max(column(rows, TAN)), places=9)
        test.assertEqual(figures["no2_day"], peaks[1])

    @staticmethod
    def nitrite(test, runs, figures):
        rows = runs["nitrite"]
        aob, nob = (at(rows, f"tray01_{kind}_gCOD_m2", when(rows, TAN, max)) for kind in ("aob", "nob"))
        test.assertGreater(aob, 10 * nob)
        test.assertAlmostEqual(figures["ratio"], aob / nob, places=6)
        test.assertAlmostEqual(figures["lag"], when(rows, NO2, max) - when(rows, TAN, max), places=9)

    @staticmethod
    def air(test, runs, figures):
        air, under = runs["air"], runs["air-under-water"]
        for name in ("tower_out_o2_mg_L", O2):
            test.assertLess(column(under, name)[-1], column(air, name)[-1])
        test.assertLess(2 * column(under, "tower_out_o2_mg_L")[-1], column(air, "tower_out_o2_mg_L")[-1])
        test.assertGreater(column(air, NH3)[-1], column(under, NH3)[-1])
        test.assertEqual(figures["under_in"], 0)

    @staticmethod
    def alkalinity(test, runs, figures):
        values = column(runs["alkalinity"], ALKALINITY)
        test.assertLess(min(values), 45 / 2)
        test.assertAlmostEqual(figures["source"], 45, delta=0.01)
        test.assertLess(column(runs["alkalinity"], PH)[-1], column(runs["alkalinity"], PH)[0])
        # 7.14 g as CaCO3 per g of nitrogen: Metcalf & Eddy, Wastewater Engineering
        test.assertAlmostEqual(figures["per_n"], 7.14, delta=0.15)

    @staticmethod
    def seeding(test, runs, figures):
        peaks = [max(column(runs[name], NO2))
                 for name in ("seeding", "seeding-a-tenth-seeded", "seeding-a-third-seeded")]
        test.assertEqual(peaks, sorted(peaks, reverse=True))
        test.assertGreater(peaks[0], 5 * peaks[1])
        test.assertGreater(figures["gain_tenth"], 14)
        test.assertAlmostEqual(figures["nh3_third"], max(column(runs["seeding-a-third-seeded"], NH3)), places=9)

    @staticmethod
    def pump(test, runs, figures):
        night = between(runs["pump"], 4.9166, 5.2501)
        values = column(night, O2)
        test.assertEqual(values, sorted(values, reverse=True), "oxygen falls as long as all is off")
        test.assertLess(values[-1], 3)
        test.assertLess(max(column(night, NH3)), 0.05)
        test.assertGreater(min(column(between(runs["pump-with-the-air-stone"], 4.9166, 5.2501), O2)), 3)
        below = next(row for row in night if float(row[O2]) < 3)
        test.assertAlmostEqual(figures["danger_h"], 24 * (float(below["time_d"]) - figures["off"]), places=6)

    @staticmethod
    def ph(test, runs, figures):
        soft, hard = runs["ph"], runs["ph-hard-water"]
        test.assertAlmostEqual(at(soft, TAN, 10) / at(hard, TAN, 10), 1, delta=0.1)
        test.assertGreater(at(hard, NH3, 10), 3 * at(soft, NH3, 10))
        # Emerson, Russo, Lund & Thurston 1975: share of un-ionised ammonia
        for run, share in ((soft, figures["part_soft"]), (hard, figures["part_hard"])):
            pka = 0.09018 + 2729.92 / (273.15 + 20)
            test.assertAlmostEqual(share, 1 / (1 + 10 ** (pka - at(run, PH, 10))), delta=0.001)


class Lesson(EndToEnd):
    """One lesson after the other as a learner has it."""

    def learn(self, name, *options, env=None):
        return towerloop("lesson", name, *options, cwd=self.folder, env=env)

    def results(self, name):
        folder = self.folder / "out" / f"lesson-{name}"
        written = json.loads((folder / "lesson.json").read_text(encoding="utf-8"))
        return folder, written["lessons"][name]

    def check_text(self, text):
        for line in text.splitlines():
            self.assertLessEqual(len(line), 80, line)
            self.assertEqual(line, line.rstrip())
        self.assertNotIn("\x1b", text)
        words = re.sub(r"--set \"[^\"]*\"", "", text)
        for left in ("{", "}", "nan", "inf "):
            self.assertNotIn(left, words)

    def check_page(self, text):
        page = Page(text)
        self.assertEqual(page.faults, [])
        self.assertNotIn("script", page.elements)
        self.assertEqual([name for name, _ in page.attributes if name.startswith("on") or name in ("src", "style")], [])
        self.assertNotIn("http:", text.replace("http://www.w3.org", ""))
        return page

    def check_lesson(self, name):
        process = self.learn(name, "--answer", "1", env=without_gnuplot(self.folder))
        self.expect(process, 0)
        self.check_text(process.stdout)
        folder, told = self.results(name)
        runs = {path.name: read_series(path) for path in (folder / "runs").iterdir()}
        getattr(Shows, name)(self, runs, told["figures"])
        self.assertIn(f"You said 1; it came out otherwise. The answer is {told['answer']}: {RIGHT[name]}",
                      re.sub(r"\s+", " ", process.stdout))
        page = self.check_page((folder / "lesson.html").read_text(encoding="utf-8"))
        self.assertIn(f"The answer is {told['answer']}", page.folded)
        self.assertNotIn("The answer is", page.shown)
        # what it suggests to try works
        command = shlex.split(told["try"])
        self.assertEqual(command[:2], ["towerloop", "run"])
        self.assertIn("--set", command)
        self.expect(towerloop(*command[1:], "--no-charts", cwd=self.folder), 0)
        changed = read_summary(self.folder / "out" / f"try-{name}")
        mine = read_summary(folder / "runs" / name)
        self.assertNotEqual(changed["ledger"], mine["ledger"], "the change changes something")
        # and the command that is printed, over several lines, is the same
        printed = process.stdout[process.stdout.index("  towerloop run"):].partition("\n\n")[0]
        self.assertEqual(shlex.split(printed.replace("\\\n", " ")), command)

    @unittest.skipUnless(shutil.which("gnuplot"), "gnuplot is not installed")
    def test_charts(self):
        process = self.learn("ph")
        self.expect(process, 0)
        folder, _ = self.results("ph")
        self.assertEqual({path.name for path in (folder / "charts").iterdir()}, {"ph.png", "ph.svg"})
        self.assertIn("Chart: out/lesson-ph/charts/ph.png\n", process.stderr)
        page = self.check_page((folder / "lesson.html").read_text(encoding="utf-8"))
        self.assertIn("svg", page.elements)

    def test_without_charts(self):
        process = self.learn("ph", "--no-charts")
        self.expect(process, 0)
        self.assertNotIn("Chart:", process.stderr)
        folder, _ = self.results("ph")
        self.assertFalse((folder / "charts").exists())
        self.assertNotIn("<svg", (folder / "lesson.html").read_text(encoding="utf-8"))

    def test_page_elsewhere(self):
        page = self.folder / "my page.html"
        self.expect(self.learn("ph", "--no-charts", "--html", page.name), 0)
        self.check_page(page.read_text(encoding="utf-8"))
        again = self.learn("ph", "--no-charts", "--html", page.name)
        self.expect(again, 1)
        self.assertIn("is there already; --force replaces it", again.stderr)
        self.expect(self.learn("ph", "--no-charts", "--html", page.name, "--force"), 0)
        for mine in ("title: a scenario of mine", page.read_text(encoding="utf-8").replace('"towerloop"', '"me"', 1)):
            page.write_text(mine, encoding="utf-8")
            again = self.learn("ph", "--no-charts", "--html", page.name, "--force")
            self.expect(again, 1)
            self.assertIn(f"{page.name} is there already and bears no mark of towerloop", again.stderr)
            self.assertEqual(page.read_text(encoding="utf-8"), mine)

    def test_the_same_again(self):
        first = self.learn("ph", "--no-charts")
        second = self.learn("ph", "--no-charts")
        self.expect(second, 0)
        self.assertEqual(first.stdout, second.stdout)

    def test_quiet(self):
        process = self.learn("ph", "--no-charts", "--quiet")
        self.expect(process, 0)
        self.assertEqual((process.stdout, process.stderr), ("", ""))


def add_lesson(name):
    setattr(Lesson, f"test_{name}", lambda self: self.check_lesson(name))


for one in NAMES:
    add_lesson(one)


class List(EndToEnd):
    def test_list(self):
        process = towerloop("lesson")
        self.expect(process, 0)
        self.assertEqual(re.findall(r"^  ([a-z]+) ", process.stdout, re.MULTILINE), NAMES)
        self.assertEqual({path.stem for path in LESSONS.glob("*.lesson")}, set(NAMES))

    def test_teacher(self):
        process = towerloop("lesson", "--teacher", "--html", "sheet.html", cwd=self.folder,
                            env=without_gnuplot(self.folder))
        self.expect(process, 0)
        for line in process.stdout.splitlines():
            self.assertLessEqual(len(line), 80, line)
        page = Page((self.folder / "sheet.html").read_text(encoding="utf-8"))
        self.assertEqual(page.faults, [])
        self.assertNotIn("details", page.elements)
        terms = [line.partition(":")[0] for line in (LESSONS / "glossary.terms").read_text().splitlines()
                 if re.match(r"\S", line)]
        self.assertGreater(len(terms), 10)
        written = json.loads((self.folder / "out/lesson-teacher/lesson.json").read_text(encoding="utf-8"))
        self.assertEqual(sorted(written["lessons"]), sorted(NAMES))
        for text in (process.stdout, page.shown):
            self.assertEqual(text.count("The answer is"), len(NAMES))
            for lesson in written["lessons"].values():
                self.assertIn(lesson["title"], text)
            for term in terms:
                self.assertIn(term, text)


class Ask(EndToEnd):
    """On a terminal it waits."""

    def begin(self, *options):
        self.end, theirs = pty.openpty()
        self.process = subprocess.Popen([str(PROGRAM), "lesson", "ph", "--no-charts", *options], stdin=theirs,
                                        stdout=theirs, stderr=theirs, env=environment(), cwd=self.folder)
        os.close(theirs)
        self.text = ""

    def read(self, until=None):
        while not (until and until in self.text):
            try:
                some = os.read(self.end, 65536)
            except OSError:
                break
            if not some:
                break
            self.text += some.decode("utf-8")

    def end_with(self, status):
        self.read()
        os.close(self.end)
        self.assertEqual(self.process.wait(timeout=120), status)
        return re.sub(r"\s+", " ", self.text)

    def type(self, line):
        os.write(self.end, line)

    def test_choice(self):
        self.begin()
        self.read("go on: ")
        self.assertIsNone(self.process.poll())
        self.assertFalse((self.folder / "out").exists(), "nothing is run before the answer")
        self.type(b"7\n")
        self.read("go on: 7")
        self.type(b"two\n")
        self.type(b" 2 \n")
        self.assertIn("You said 2, and so it came out: those in hard water", self.end_with(0))
        self.assertEqual(self.text.count("Your choice"), 3)

    def test_enter(self):
        self.begin()
        self.read("go on: ")
        self.type(b"\n")
        text = self.end_with(0)
        self.assertIn("The answer is 2: ", text)
        self.assertNotIn("You said", text)

    def test_answer_given(self):
        self.begin("--answer", "3")
        text = self.end_with(0)
        self.assertIn("You said 3; it came out otherwise.", text)
        self.assertNotIn("Your choice", text)

    def test_interrupted(self):
        self.begin()
        self.read("go on: ")
        self.process.send_signal(signal.SIGINT)
        self.end_with(130)
        self.assertFalse((self.folder / "out").exists())


class Refusals(EndToEnd):
    def refuse(self, message, *args, status=2):
        process = towerloop("lesson", *args, cwd=self.folder)
        self.expect(process, status)
        self.assertIn(message, process.stderr)
        return process

    def test_words(self):
        self.refuse("did you mean cycling?", "cycing")
        self.refuse("there is no lesson 'quantum'; towerloop lesson lists them", "quantum")
        self.refuse("there is no choice 4; expected 1 to 3", "ph", "--answer", "4")
        self.refuse("expected the number of a choice", "ph", "--answer", "one")
        self.refuse("expected no NAME with it", "ph", "--teacher")
        self.refuse("expected no --answer with it", "--teacher", "--answer", "1")
        self.refuse("say which lesson", "--answer", "1")
        self.refuse("No such file", "nowhere.lesson")
        self.assertEqual(list(self.folder.iterdir()), [])

    def test_a_folder_of_somebody_else(self):
        (self.folder / "out" / "lesson-ph").mkdir(parents=True)
        (self.folder / "out" / "lesson-ph" / "diary.txt").write_text("mine")
        self.refuse("is no study of towerloop", "ph", status=1)
        self.refuse("is no study of towerloop", "ph", "--force", status=1)

    def own(self, *changes):
        """A lesson of the user's own, from a shipped one."""
        shutil.copy(LESSONS / "ph.yaml", self.folder)
        text = (LESSONS / "ph.lesson").read_text(encoding="utf-8")
        for old, new in changes:
            self.assertIn(old, text)
            text = text.replace(old, new)
        (self.folder / "own.lesson").write_text(text, encoding="utf-8")
        return "own.lesson"

    def test_a_lesson_of_ones_own(self):
        self.expect(towerloop("lesson", self.own(), "--no-charts", cwd=self.folder), 0)
        self.assertTrue((self.folder / "out" / "lesson-own" / "lesson.html").exists())

    def test_ready_is_told_as_far_as_the_run_shows_it(self):
        """Whoever feeds less or more reads the values of that run, poison and the end of the run included."""
        text = (LESSONS / "cycling.yaml").read_text(encoding="utf-8")
        shutil.copy(LESSONS / "cycling.lesson", self.folder)
        for ration in ("0.3 %/d", "0.8 %/d"):
            (self.folder / "cycling.yaml").write_text(text.replace("ration: 0.6 %/d", f"ration: {ration}"), encoding="utf-8")
            process = towerloop("lesson", "cycling.lesson", "--no-charts", "--force", cwd=self.folder)
            self.expect(process, 0)
            ready, length, tan, no2, nh3 = map(float, re.search(
                r"From day (\d+) to the end of this run, on day (\d+), total ammonia was at most (\S+) and nitrite at most "
                r"(\S+) mg/L as N: .* from then on it was at most (\S+) mg/L as N", " ".join(process.stdout.split())).groups())
            run = self.folder / "out" / "lesson-cycling" / "runs" / "cycling"
            since = read_summary(run)["filter_ready_day"]
            late = between(read_series(run), since, length)
            self.assertEqual((round(since), float(late[-1]["time_d"])), (ready, length))
            for shown, name in ((tan, TAN), (no2, NO2), (nh3, NH3)):
                self.assertAlmostEqual(shown, max(column(late, name)), delta=0.006 * shown)

    def test_a_name_that_would_be_something_else(self):
        shutil.copy(self.folder / self.own(), self.folder / "it's.lesson")
        self.refuse("a lesson cannot be called after this file", "it's.lesson")

    def test_every_fault_at_once(self):
        name = self.own(("answer: 2\n", "answer: 5\n"), ("take: at, at: day}\n  tan_hard", "take: peak}\n  tan_hard"),
                        ("{tan_hard:2}", "{tan_herd:2}"), ("title: Why pH", "titel: Why pH"),
                        ("nh3_ratio > 3", "nh3_ratio about 3"), ("day: {number: 10}", "day: {number: ten}"),
                        ("divide: [nh3_hard, nh3_soft]", "divide: [nh3_hard, later]"),
                        ("worse off?", "worse off, with {tan_soft}?"), ("limit: alkalinity", "limit: hardness"))
        process = self.refuse("own.lesson", name)
        for part in (": titel: there is no such key; expected title", 'the key "title" is missing',
                     ': answer: "5" will not do; expected a whole number from 1 to 3',
                     ': figures.tan_soft.take: "peak" is none; expected highest, lowest,',
                     ': explain: "{tan_herd:2}', ': holds: this is none; expected a comparison',
                     ': figures.day.number: "ten" is neither; expected a number',
                     ': figures.nh3_ratio.divide: "later" is neither',
                     ": question: the numbers of the run are not known yet",
                     ': figures.alk_caution.limit: there is no limit "hardness"'):
            self.assertIn(part, process.stderr)
        for line in process.stderr.splitlines():
            self.assertRegex(line, r"^own\.lesson:\d+:\d+: ")
        self.assertFalse((self.folder / "out").exists())

    def test_a_run_that_does_not_show_it(self):
        name = self.own(("nh3_ratio > 3", "nh3_ratio > 30"))
        process = self.refuse('its run does not show what it teaches: "nh3_ratio > 30" does not hold', name)
        self.assertNotIn("The answer is", process.stdout)

    def test_names_that_only_the_run_can_tell(self):
        self.refuse('there is no column "tank_gold"', self.own(("column: tank_ph,", "column: tank_gold,")))
        self.refuse('has no variant "harder water"', self.own(("run: hard water", "run: harder water")))
        self.refuse('the figure "temperature" has no value',
                    self.own(("{column: temperature_degC, take: at, at: day}", "{summary: no.such.thing}")))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
