"""Nothing a scenario says is ever code: words that would like to be commands, markup, formulas or escapes go through
every command and file, and stay words. A canary tells when one of them was carried out.

usage: hostile_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import html.parser
import json
import os
import pathlib
import re
import shlex
import shutil
import subprocess
import sys
import unittest
import xml.etree.ElementTree

sys.dont_write_bytecode = True
from run_e2e import PROGRAM, ROOT, SMALL, EndToEnd, environment, towerloop, without_gnuplot  # noqa: E402

# What may not reach a terminal: controls but the line feed, marks that turn the direction of writing. gnuplot itself
# sets tabs into its pictures.
STEERS = re.compile("[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ufeff]|\r(?!\n)")
HARMS = re.compile(STEERS.pattern.replace("\x09", "\x08"))

# {canary} is a file that no command may make.
TITLE = ("'; system('touch {canary}'); ' \"; system(\"touch {canary}\"); \" `touch {canary}` $(touch {canary}) <bdi>&amp;"
         "</title></text><script>alert(1)</script> ]]> --> \\' \\\" \\n %s %n @x {{/Bold y}}^2_3 \u05d0\u05d1\u05d2 "
         "\u0627\u0644\u0639 \u9ce5 \U0001f41f " + "W" * 2000)
GROUP = "=cmd|' /C touch c'!A0,\";`touch c`<img src=x onerror=alert(2)>'!print 1 \u05d0\u05d1"
CURRENCY = "@SUM(1+1)*<b>\"',"
VARIANTS = ["-2+3+cmd|' /C touch c'!A0", "+1;\"2\",<svg onload=alert(3)>", "=HYPERLINK(\"http://x\")",
            "'`touch c`'; system('touch c'); \u05d0\u05d1\u05d2 ../../x /etc/passwd %n"]
STARTS_A_FORMULA = tuple("=+-@\t\r")

# Texts that no key takes, and how a message shows what is wrong with them.
REFUSED = {"line feed": "a\\nset out 'x'", "carriage return": "a\\rb", "tab": "a\\tb", "NUL": "a\\0b",
           "escape": "\\e[31mred\\e]0;title\\a", "C1": "\\x9b31m", "delete": "a\\x7f", "right-to-left override": "\\u202Egnp.exe",
           "isolate": "\\u2066x", "line separator": "a\\u2028b", "byte order mark": "\\uFEFFx"}


def quoted(text):
    """A YAML text in double quotes."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def scenario(title, group, currency, variants, files):
    return (SMALL.replace("title: Small loop", f"title: {quoted(title)}")
            .replace("length: 3 d", "length: 2 d")
            .replace("temperature: 20 degC", f"temperature: {{file: {quoted(files[0])}}}")
            .replace("name: koi", f"name: {quoted(group)}")
            .replace('{ration: 0.8 %/d, protein: 38 %, meals: ["08:00", "17:00"]}',
                     f"{{protein: 38 %, log: {{file: {quoted(files[1])}}}}}") + f"""\
deliveries: {{file: {quoted(files[2])}}}
events:
  - {{at: day 0 06:00, add fish: {{name: {quoted(group + ' 2')}, count: 3, mean mass: 400 g}}}}
  - {{at: day 1 06:00, remove fish: {{name: {quoted(group)}, count: 1}}}}
  - {{at: day 1 08:00, dead fish: {{name: {quoted(group)}, count: 1}}}}
  - {{at: day 1, change water: 20 %}}
  - {{at: day 1 10:00, dose: {{salt: 1 kg}}}}
costs: {{currency: {quoted(currency)}, electricity: 0.3 per kWh, pump: 60 W, water: 4 per m3, feed: 5 per kg,
        media: 0.4 per L, tray: 12}}
variants:
""" + "".join(f"  - {{name: {quoted(name)}, set: {{tower.trays: {16 + i}}}}}\n" for i, name in enumerate(variants)))


def lesson(title, choices, run):
    title = title.replace("{", "(").replace("}", ")")  # a lesson's braces hold its figures
    return f"""\
format: 1
lesson: 1
title: {quoted(title)}
scenario: {quoted(run)}
question: {quoted(title)}
choices: [{', '.join(map(quoted, choices))}]
answer: 1
figures:
  low: {{column: tank_o2_mg_L, take: lowest}}
holds: [low > 0]
chart:
  title: {quoted(title[:100])}
  unit: {quoted(choices[1][:40])}
  across: day
  rows: 2
  lines: [{{name: {quoted(choices[0][:40])}, column: tank_o2_mg_L}}]
explain: [{quoted(title + ' {low:1}')}]
equations: [{quoted(choices[1])}]
look: {quoted(choices[0])}
try: [tower.trays=8]
teacher: [{quoted(choices[1])}]
sources: [{quoted(title)}]
"""


class Seen(html.parser.HTMLParser):
    """Elements and attributes of a page, and its words."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.kinds, self.words, self.style = set(), [], False
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.kinds |= {tag} | {(tag, name) for name, _ in attrs} | {("href", v[:1]) for n, v in attrs if n == "href"}
        self.style = tag == "style"

    def handle_comment(self, data):
        self.kinds.add(("comment", data))

    def handle_pi(self, data):
        self.kinds.add(("instruction", data))

    def handle_data(self, data):
        if not self.style:
            self.words.append(data)

    @property
    def text(self):
        return squeezed("".join(self.words))


def squeezed(text):
    return re.sub(r"\s+", "", text)


def texts_in(value):
    """Every text of a JSON value."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, item in value.items():
            yield key
            yield from texts_in(item)
    elif isinstance(value, list):
        for item in value:
            yield from texts_in(item)


def is_number(cell):
    try:
        return bool(float(cell)) or True
    except ValueError:
        return False


class Hostile(EndToEnd):
    def setUp(self):
        super().setUp()
        self.canary = self.folder / "canary"
        # whoever starts a program by a name without its folder finds what makes the canary
        self.env = environment(HOME=str(self.home()), XDG_CONFIG_HOME=str(self.home()), **{
            name: value for name in ("GNUPLOT_LIB", "GNUPLOT_DRIVER_DIR", "GNUPLOT_PS_DIR", "GNUTERM", "GNUHELP",
                                     "GNUPLOT_FONTPATH", "GNUPLOT_DEFAULT_GDFONT", "GNUFITLOG", "PAGER", "SHELL")
            for value in (str(self.home() / "no such thing"),)})

    def home(self):
        """A home whose start-up files make the canary."""
        home = self.folder / "home"
        command = f"system('touch {shlex.quote(str(self.folder / 'canary'))}')\nset print '{self.folder}/canary'\nprint 1\n"
        if not home.exists():
            (home / "gnuplot").mkdir(parents=True)
            for name in (".gnuplot", "gnuplotrc", "gnuplot/gnuplotrc", ".gnuplotrc", "gnuplot.ini", "GNUPLOT.INI"):
                (home / name).write_text(command.replace("''", ""), encoding="utf-8")
        return home

    def no_canary(self):
        self.assertEqual([str(path) for path in self.folder.rglob("canary")], [], "something was carried out")
        self.assertEqual([path for path in (self.folder / "c", self.folder / "work" / "c") if path.exists()], [])


class Words(Hostile):
    """Every command, on hostile words and on tame ones beside them."""

    def prepare(self, name, title, group, currency, variants, files):
        work = self.folder / name
        work.mkdir()
        (work / files[0]).write_text("time_d,temperature_degC,=1+1\n0,18,\"=cmd|' /C calc'!A0\"\n2,20,@x\n", encoding="utf-8")
        (work / files[1]).write_text("time_d,feed_g,=note\n0.4,30,\"`touch c`,\"\"\"\n1.4,30,<script>\n", encoding="utf-8")
        doubled = (group + " 3").replace('"', '""')
        (work / files[2]).write_text(f'time_d,name,count,mean_mass_g\n0.5,"{doubled}",2,300\n', encoding="utf-8")
        text = scenario(title, group, currency, variants, files)
        (work / "pond.yaml").write_text(text, encoding="utf-8")
        (work / "readings.csv").write_text(
            "time_iso,place,quantity,value,unit,error,method\n" + "".join(
                f'2027-06-01T{hour:02d}:00,tank,oxygen,{8 - hour / 50},mg/L,0.2,"{doubled}"\n' for hour in range(2, 23, 2)),
            encoding="utf-8")
        (work / "own.lesson").write_text(lesson(title, [group, currency], "pond.yaml"), encoding="utf-8")
        return work

    def call(self, work, log, *args):
        """A command under strace, if that may trace; what it says must not steer a terminal."""
        tracer = ["strace", "-f", "-qq", "-s", "200", "-o", str(log), "-e", "trace=execve,execveat,connect"] if log else []
        env = self.env
        if log:  # the leak sanitizer traces, too, and there can be one only
            env = dict(env, ASAN_OPTIONS=env.get("ASAN_OPTIONS", "") + ":detect_leaks=0")
        process = subprocess.run([*tracer, str(PROGRAM), *map(str, args)], cwd=work, env=env, text=True,
                                 encoding="utf-8", stdin=subprocess.DEVNULL, capture_output=True, timeout=600,
                                 check=False)
        self.assertIn(process.returncode, (0, 1) if args[0] == "size" else (0,), process.stderr)
        for said in (process.stdout, process.stderr):
            if args[0] != "log":  # a form feed ends each of its pages
                self.assertNotRegex(said, STEERS, args)
        if log:
            for line in log.read_text(encoding="utf-8", errors="replace").splitlines():
                started = re.search(r'execve(?:at)?\((?:AT_FDCWD, )?"([^"]*)"', line)
                if started:
                    self.assertIn(pathlib.Path(started.group(1)).name, ("towerloop", "gnuplot", "fc-match"), line)
                self.assertNotRegex(line, r"connect\(.*AF_INET", "nothing asks the network")
        return process

    def everything(self, work, log, out):
        """All commands; `out` is the beginning of the names of their folders."""
        def named(name):
            return f"{out}{name}"
        said = [self.call(work, log, *args) for args in (
            ["check", "pond.yaml"],
            ["run", "pond.yaml", "--report", "--out", named("run")],
            ["chart", named("run"), "--format", "png,svg,pdf", "--out", named("chart")],
            ["report", named("run")],
            ["compare", "pond.yaml", "--report", "--out", named("compare"), "--threads", "1"],
            ["compare", "pond.yaml", "--uncertain", "100", "--report", "--out", named("unsure")],
            ["size", "pond.yaml", "--least", "tower.trays", "--set", "fish[0].count=2", "--out", named("size")],
            ["endure", "pond.yaml", "--out", named("endure")],
            ["endure", "pond.yaml", "--card", "--out", named("card"), "--no-charts"],
            ["spread", "pond.yaml", "--runs", "10", "--out", named("spread")],
            ["report", named("spread")],
            ["chart", named("spread")],
            ["report", named("run"), "--spread", named("spread"), "--out", named("page")],
            ["fit", "pond.yaml", "readings.csv", "--fit", "parameters.k_surface", "--out", named("fit")],
            ["log", "pond.yaml"],
            ["lesson", "own.lesson", "--answer", "1", "--out", named("lesson")],
        )]
        for args in (["check", "pond.yaml", "--json"], ["log", "pond.yaml", "--csv"]):
            process = self.call(work, log, *args)
            said.append(process)
            name = "said.json" if "--json" in args else "said.csv"
            (work / name).write_text(process.stdout, encoding="utf-8")
        return said

    def test_words_stay_words(self):
        trace = shutil.which("strace") and subprocess.run(["strace", "-qq", "-o", os.devnull, "true"], check=False,
                                                          capture_output=True).returncode == 0
        if not trace:
            print("strace is missing or may not trace here: which programs are started is not looked at", file=sys.stderr)
        canary = str(self.canary)
        words = [TITLE.format(canary=canary), GROUP, CURRENCY, VARIANTS]
        files = ["=t'\"`touch c`;|<x>.csv", "$(touch c) \u05d0&%n.csv", "-rf @x,\\n.csv"]
        work = self.prepare("work", *words, files)
        tame = self.prepare("tame", "A title", "koi", "EUR", ["one", "two", "three", "four"], ["t.csv", "f.csv", "d.csv"])
        out = "=o'\"`touch c`$(touch c) <b>&;|\u05d0 "
        self.everything(work, self.folder / "log" if trace else None, out)
        self.no_canary()
        self.everything(tame, None, "o")
        self.check_json(work, words)
        self.check_tables(work)
        self.check_markup(work, tame, words)
        self.check_said_back(work, out, words)

    def check_json(self, work, words):
        found = set()
        for path in sorted(work.rglob("*.json")):
            with self.subTest(path=path.name):
                def refuse(constant):
                    raise ValueError(constant)
                found |= set(texts_in(json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)))
        title, group, currency, variants = words
        for text in (title, group, currency, *variants):
            self.assertIn(text, found)

    def check_tables(self, work):
        names, given = set(), {path.name for path in work.iterdir()}
        for path in sorted(work.rglob("*.csv")):
            if path.name in given and path.name != "said.csv" or path.parent.name == "inputs":
                continue  # what the user gave is kept byte for byte
            with open(path, encoding="utf-8", newline="") as file:
                rows = list(csv.reader(file, strict=True))
            names.add(path.name)
            with self.subTest(path=path):
                self.assertEqual({len(row) for row in rows}, {len(rows[0])})
                for row in rows:
                    for cell in row:
                        # "-" alone stands for "from ... to", and no spreadsheet reckons with it
                        self.assertFalse(cell.startswith(STARTS_A_FORMULA) and not is_number(cell) and cell != "-", cell)
        self.assertLessEqual({"series.csv", "calendar.csv", "compare.csv", "size.csv", "endure.csv", "spread.csv",
                              "residuals.csv", "chances.csv", "said.csv"}, names)
        for compare in work.rglob("compare.csv"):
            with open(compare, encoding="utf-8", newline="") as file:
                rows = list(csv.DictReader(file))
            self.assertEqual([row["variant"] for row in rows[1:]],
                             ["'" * name.startswith(STARTS_A_FORMULA) + name for name in VARIANTS])
            self.assertEqual({row["currency"] for row in rows}, {"'" + CURRENCY})

    def check_markup(self, work, tame, words):
        """No element and no attribute that tame words do not make as well."""
        def pages(folder):
            return {(path.parent.name[-6:], path.name) if "report" in path.name else path.name: path
                    for path in folder.rglob("*.html")}
        self.assertEqual(len(pages(work)), len(list(work.rglob("*.html"))))
        self.assertEqual(len(pages(work)), 7)
        plain = set().union(*(Seen(path.read_text(encoding="utf-8")).kinds for path in tame.rglob("*.html")))
        title, group, currency, variants = words
        for name, path in pages(work).items():
            with self.subTest(page=name):
                text = path.read_text(encoding="utf-8")
                self.assertNotRegex(text, HARMS)
                seen = Seen(text)
                self.assertEqual({kind for kind in seen.kinds if kind not in plain}, set())
                self.assertIn(squeezed(title)[:100], seen.text)
        [compare] = [path for path in work.rglob("report.html") if path.parent.name.endswith("compare")]
        text = Seen(compare.read_text(encoding="utf-8")).text
        for word in (currency, *variants):
            self.assertIn(squeezed(word), text)
        drawn = {element.tag for path in tame.rglob("*.svg") for element in xml.etree.ElementTree.parse(path).iter()}
        pictures = sorted(work.rglob("*.svg"))
        self.assertGreater(len(pictures), 20)
        for path in pictures:
            with self.subTest(picture=path.name):
                self.assertNotRegex(path.read_text(encoding="utf-8"), HARMS)
                for element in xml.etree.ElementTree.parse(path).iter():
                    self.assertIn(element.tag, drawn)
                    for name, value in element.attrib.items():
                        self.assertFalse(name.startswith("on") or "javascript:" in value.lower(), (name, value))
        for path in work.rglob("*.ics"):
            text = path.read_bytes().decode("utf-8")
            self.assertNotRegex(text, STEERS)
            for line in text.replace("\r\n ", "").split("\r\n"):
                self.assertRegex(line, r"^([A-Z-]+[:;].*)?$")
        self.assertEqual([str(path) for path in work.rglob("*.gp")], [], "scripts that were left behind")

    def check_said_back(self, work, out, words):
        """The scenario that a run writes says the same words."""
        process = towerloop("check", work / f"{out}run" / "scenario.yaml", "--json")
        self.expect(process, 0)
        self.assertLessEqual({words[0], words[1], words[2]}, set(texts_in(json.loads(process.stdout))))

    def test_every_text_key_refuses_what_steers(self):
        def tried(place, text):
            return SMALL + 'events: [{at: day 1, add fish: {name: "x", count: 1, mean mass: 9 g}}]\ncosts: {currency: "x"}\n' \
                'variants: [{name: "x", set: {tower.trays: 9}}]\n' if place is None else \
                tried(None, text).replace(place, place.replace("x", text))
        base = tried(None, "").replace("title: Small loop", 'title: "x"').replace("temperature: 20 degC", 'temperature: {file: "x"}')
        for place in ('title: "x"', 'file: "x"', 'add fish: {name: "x"', 'currency: "x"', '[{name: "x", set'):
            for what, text in REFUSED.items():
                with self.subTest(place=place, what=what):
                    self.assertEqual(base.count(place), 1)
                    path = self.write(base.replace(place, place.replace('"x"', f'"{text}"')))
                    process = towerloop("check", path)
                    self.expect(process, 2)
                    self.assertIn("line break or a control character", process.stderr)
                    self.assertNotRegex(process.stderr + process.stdout, STEERS)

    def test_settings_are_words_too(self):
        path = self.write(SMALL)
        self.expect(towerloop("run", path, "--set", f"title={quoted(TITLE.format(canary=self.canary))}", "--set",
                              f"fish[0].name={quoted(GROUP)}", "--out", self.folder / "out", env=self.env), 0)
        self.no_canary()
        summary = json.loads((self.folder / "out" / "summary.json").read_text(encoding="utf-8"))
        self.assertIn(TITLE.format(canary=self.canary), set(texts_in(summary)))
        for what, text in REFUSED.items():
            with self.subTest(what=what):
                process = towerloop("check", path, "--set", f'title="{text}"')
                self.expect(process, 2)
                self.assertNotRegex(process.stderr, STEERS)


class Places(Hostile):
    """Names of files and folders are words, too, and may hold anything but a NUL and a slash."""
    ODD = "d\x1b[31m\n\u202egnp'\"`touch c`\x9b &<x>"

    def setUp(self):
        super().setUp()
        self.odd = self.folder / self.ODD
        self.odd.mkdir()
        (self.odd / "s.yaml").write_text(SMALL, encoding="utf-8")
        self.small = self.write(SMALL)

    def said(self, *args, status=0, cwd=None):
        process = towerloop(*args, env=self.env, cwd=cwd or self.odd)
        self.expect(process, status)
        self.assertNotRegex(process.stdout, STEERS)
        self.assertNotRegex(process.stderr, STEERS)
        return process.stderr

    def test_folders(self):
        for where in (self.odd / "s.yaml", "s.yaml"):
            out = self.odd / f"out {where == 's.yaml'}"
            self.said("run", where, "--report", "--out", out / "run")
            self.assertIn("\\x1b[31m\\n\\u202egnp", self.said("chart", out / "run"))
            self.said("report", out / "run")
            self.said("compare", where, "--vary", "tower.trays=8,9", "--report", "--out", out / "compare")
            self.said("endure", where, "--card", "--out", out / "card", "--no-charts")
            self.said("size", where, "--least", "tower.trays", "--out", out / "size", "--no-charts", status=1)
            self.said("spread", where, "--runs", "10", "--out", out / "spread", "--no-charts")
            self.said("check", where)
            for path in out.rglob("*.html"):
                self.assertNotRegex(path.read_text(encoding="utf-8"), HARMS)
            for path in out.rglob("*.json"):
                json.loads(path.read_text(encoding="utf-8"))
        self.no_canary()

    def test_words_on_the_command_line(self):
        odd, small = self.ODD, self.small
        for args in (["run", f"{odd}/nowhere"], ["run", odd], [odd], ["run", f"--{odd}"], ["run", small, "--set", odd],
                     ["run", small, "--set", f"{odd}=1"], ["run", small, "--set", f"tower.trays={odd}"],
                     ["run", small, "--units", odd], ["run", small, "--rtol", odd], ["run", small, "--spread", odd],
                     ["run", small, "--fail-on", odd], ["compare", small, "--vary", f"{odd}=1,2"],
                     ["compare", small, "--vary", f"tower.trays={odd},{odd}"], ["compare", small, "--format", odd],
                     ["size", small, "--least", odd], ["size", small, "--least", "tower.trays", "--margin", odd],
                     ["endure", small, "--at", odd], ["endure", small, "--outage", odd], ["endure", small, "--fails", odd],
                     ["spread", small, "--shard", odd], ["spread", small, "--inputs", odd], ["spread", small, "--runs", odd],
                     ["fit", small, odd], ["fit", small, small, "--fit", odd], ["chart", odd], ["report", odd],
                     ["merge", odd], ["keys", odd], ["lesson", odd], ["lesson", f"{odd}.lesson"], ["lesson", "ph", "--answer", odd],
                     ["water", f"{odd}=1"], ["water", f"pH={odd}"], ["log", f"{odd}/nowhere"], ["check", f"{odd}/nowhere"]):
            with self.subTest(args=args):
                process = towerloop(*args, env=self.env, cwd=self.folder)
                self.assertIn(process.returncode, (1, 2), process.stderr)
                self.assertNotRegex(process.stdout + process.stderr, STEERS)
                self.assertRegex(process.stderr, r"\S")
        self.no_canary()


class Files(Hostile):
    """Files of a scenario lie in its folder or below; whatever is named is read within bounds, at once."""

    def setUp(self):
        super().setUp()
        self.env = without_gnuplot(self.folder)
        self.pond = self.folder / "pond"
        (self.pond / "sub").mkdir(parents=True)
        for path in (self.folder / "secret.csv", self.pond / "t.csv", self.pond / "sub" / "t.csv"):
            path.write_text("time_d,temperature_degC\n0,18\n3,19\n", encoding="utf-8")
        (self.folder / "pond-too").mkdir()
        shutil.copy(self.pond / "t.csv", self.folder / "pond-too" / "t.csv")
        (self.pond / "out.csv").symlink_to("../secret.csv")
        (self.pond / "up").symlink_to("..")
        (self.pond / "in.csv").symlink_to("sub/t.csv")
        (self.pond / "round.csv").symlink_to("round.csv")
        os.mkfifo(self.pond / "pipe")
        with open(self.pond / "sparse.csv", "wb") as file:
            file.truncate(10 * 2**30)

    def check(self, *args, cwd=None, timeout=60):
        return subprocess.run([str(PROGRAM), "check", *map(str, args)], cwd=cwd or self.pond, env=self.env, text=True,
                              stdin=subprocess.DEVNULL, capture_output=True, timeout=timeout, check=False)

    def named(self, file, cwd=None, extra=()):
        path = self.pond / "pond.yaml"
        path.write_text(SMALL.replace("temperature: 20 degC", f"temperature: {{file: {quoted(str(file))}}}"), encoding="utf-8")
        return self.check(path if cwd else "pond.yaml", *extra, cwd=cwd)

    def test_below_the_folder(self):
        for file in ("t.csv", "./t.csv", "sub/t.csv", "sub/../t.csv", "in.csv", "up/pond/t.csv", "../pond/t.csv"):
            for cwd in (None, self.folder, "/"):
                with self.subTest(file=file, cwd=cwd):
                    self.expect(self.named(file, cwd), 0)

    def test_elsewhere_is_refused(self):
        for file in ("../secret.csv", "sub/../../secret.csv", "out.csv", "up/secret.csv", "../pond-too/t.csv",
                     self.folder / "secret.csv", self.pond / "t.csv", "/etc/passwd", "../../../../../../../../etc/passwd",
                     "/proc/self/environ", "/dev/zero", "../nowhere.csv"):
            for cwd in (None, self.folder):
                with self.subTest(file=file, cwd=cwd):
                    process = self.named(file, cwd)
                    self.expect(process, 2)
                    self.assertIn("outside of the scenario's folder", process.stderr)
                    self.assertRegex(process.stderr, r"pond\.yaml:6:\d+: temperature\.file: ")
                    self.assertNotIn("root:", process.stderr)

    def test_every_key_that_names_a_file(self):
        secret = quoted(str(self.folder / "secret.csv"))
        texts = {
            "temperature.file": SMALL.replace("temperature: 20 degC", f"temperature: {{file: {secret}}}"),
            "weather.air temperature.file": SMALL.replace("temperature: 20 degC", "temperature: from weather") +
            f"weather: {{air temperature: {{file: {secret}}}, latitude: 40 deg}}\n",
            "feeding.log.file": SMALL.replace('{ration: 0.8 %/d, protein: 38 %, meals: ["08:00", "17:00"]}',
                                              f"{{protein: 38 %, log: {{file: {secret}}}}}"),
            "deliveries.file": SMALL + f"deliveries: {{file: {secret}}}\n",
        }
        listed = towerloop("keys", "--json")
        self.expect(listed, 0)
        keys = {text for text in texts_in(json.loads(listed.stdout)) if re.fullmatch(r"[a-z .]+\.file", text)}
        self.assertEqual(keys, set(texts), "every key that names a file is tried here")
        for key, text in texts.items():
            with self.subTest(key=key):
                (self.pond / "pond.yaml").write_text(text, encoding="utf-8")
                process = self.check("pond.yaml")
                self.expect(process, 2)
                self.assertIn(f"{key}: ", process.stderr)
                self.assertIn("outside of the scenario's folder", process.stderr)

    def test_the_command_line_may_name_any(self):
        (self.pond / "pond.yaml").write_text(SMALL, encoding="utf-8")
        secret = self.folder / "secret.csv"
        self.expect(self.check("pond.yaml", "--set", f"temperature={{file: {quoted(str(secret))}}}"), 0)
        self.expect(self.named("t.csv", extra=["--set", f"temperature.file={secret}"]), 0)
        self.expect(self.named(secret, extra=["--set", f"temperature.file={secret}"]), 0)
        for way in ("../secret.csv", "out.csv"):  # short for nothing
            process = self.named("t.csv", extra=["--set", f"temperature.file={way}"])
            self.expect(process, 2)
            self.assertIn("outside of the scenario's folder", process.stderr)
        self.write(SMALL + f"variants: [{{name: x, set: {{temperature: {{file: {quoted(str(secret))}}}}}}}]\n", "pond/v.yaml")
        process = towerloop("compare", self.pond / "v.yaml", "--out", self.folder / "v", env=self.env)
        self.expect(process, 2)
        self.assertIn("outside of the scenario's folder", process.stderr)
        process = towerloop("run", self.pond / "pond.yaml", "--set", f"temperature.file={secret}", "--out",
                            self.folder / "o", "--no-charts", env=self.env)
        self.expect(process, 0)
        self.assertEqual((self.folder / "o" / "inputs" / "secret.csv").read_bytes(), secret.read_bytes())
        self.expect(self.check(self.folder / "o" / "scenario.yaml"), 0)

    def test_a_scenario_called_like_an_option(self):
        """A file may not pass for the command line by its name."""
        for name in ("--set", "--vary", "variant"):
            (self.pond / name).write_text(SMALL.replace("temperature: 20 degC", "temperature: {file: /etc/passwd}"))
            process = self.check("--", name)
            self.expect(process, 2)
            self.assertIn("outside of the scenario's folder", process.stderr)

    def test_what_is_no_file(self):
        for file, words in (("pipe", "a pipe or a device"), ("sub", "is a folder"), ("sparse.csv", "larger than 64 MiB"),
                            ("round.csv", ""), ("t.csv/x", "Not a directory"), ("x" * 300, "name too long"),
                            ("nowhere/t.csv", "No such file")):
            with self.subTest(file=file[:20]):
                process = self.named(file)
                self.expect(process, 2)
                self.assertIn(words, process.stderr)
                self.assertRegex(process.stderr, r"pond\.yaml:6:\d+: temperature\.file: ")

    def test_arguments_that_are_no_file(self):
        """Each is answered at once with a reason: nothing is waited for, and nothing read without end."""
        (self.pond / "pond.yaml").write_text(SMALL, encoding="utf-8")
        (self.pond / "sparse.lesson").symlink_to("sparse.csv")
        os.mkfifo(self.pond / "pipe.lesson")
        odd = ["pipe", "sub", "sparse.csv", "/dev/zero", "/dev/null", "/proc/self/environ", "/proc/self/mem", "/dev/full",
               "round.csv", "nowhere", "", "x" * 5000]
        for file in odd:
            for args in (["check", file], ["run", file, "--out", "o"], ["log", file], ["compare", file, "pond.yaml", "--out", "o"],
                         ["size", file, "--least", "tower.trays", "--out", "o"], ["endure", file, "--out", "o"],
                         ["spread", file, "--out", "o"], ["fit", file, "t.csv", "--out", "o"],
                         ["fit", "pond.yaml", file, "--out", "o"], ["chart", file], ["report", file], ["merge", file, "--out", "o"],
                         ["run", "pond.yaml", "--spread", file, "--out", "o"]):
                with self.subTest(args=[a[:20] for a in args]):
                    process = subprocess.run([str(PROGRAM), *args], cwd=self.pond, env=self.env, text=True,
                                             stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False)
                    self.assertIn(process.returncode, (1, 2), process.stderr)
                    self.assertRegex(process.stderr, r"\w")
                    self.assertFalse((self.pond / "o").exists())
        for file in ("sparse.lesson", "pipe.lesson", "nowhere.lesson"):
            process = subprocess.run([str(PROGRAM), "lesson", file], cwd=self.pond, env=self.env, text=True,
                                     stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False)
            self.assertIn(process.returncode, (1, 2), process.stderr)

    def test_folders_of_results_with_something_else_in_place_of_a_file(self):
        """Somebody else's folder of results is read within bounds as well."""
        (self.pond / "pond.yaml").write_text(SMALL, encoding="utf-8")
        for args in (["run", "pond.yaml", "--out", "r"], ["compare", "pond.yaml", "--vary", "tower.trays=8,9", "--out", "c"],
                     ["spread", "pond.yaml", "--runs", "10", "--out", "s"]):
            self.expect(towerloop(*args, "--no-charts", cwd=self.pond, env=self.env), 0)
        for folder, again in (("r", [["chart", "r", "--out", "e"], ["report", "r"], ["run", "pond.yaml", "--force", "--out", "r", "--no-charts"]]),
                              ("c", [["report", "c"], ["compare", "pond.yaml", "--vary", "tower.trays=8,9", "--out", "c", "--no-charts"]]),
                              ("s", [["report", "s"], ["run", "pond.yaml", "--spread", "s", "--out", "q", "--no-charts"],
                                     ["spread", "pond.yaml", "--runs", "10", "--out", "s", "--no-charts"], ["merge", "s", "--out", "m"]])):
            for path in sorted((self.pond / folder).rglob("*")):
                if not path.is_file():
                    continue
                kept = path.read_bytes()
                for kind in ("pipe", "zero", "folder", "sparse"):
                    for args in again:
                        if not os.path.lexists(path) or path.is_file() and not path.is_symlink():
                            path.unlink(missing_ok=True)
                            if kind == "pipe":
                                os.mkfifo(path)
                            elif kind == "zero":
                                path.symlink_to("/dev/zero")
                            elif kind == "folder":
                                path.mkdir()
                            else:
                                path.symlink_to(self.pond / "sparse.csv")
                        with self.subTest(path=str(path.relative_to(self.pond)), kind=kind, args=args):
                            process = subprocess.run([str(PROGRAM), *args], cwd=self.pond, env=environment(), text=True,
                                                     stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False)
                            self.assertIn(process.returncode, (0, 1, 2), process.stderr)
                        for made in ("e", "q", "m"):
                            shutil.rmtree(self.pond / made, ignore_errors=True)
                    if path.is_dir() and not path.is_symlink():
                        shutil.rmtree(path)
                    else:
                        path.unlink(missing_ok=True)
                    if (self.pond / folder).exists():
                        path.parent.mkdir(parents=True, exist_ok=True)
                        path.write_bytes(kept)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
