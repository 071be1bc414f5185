"""What `meson install` leaves behind works by itself: program, library, examples in three languages.

usage: run_install.py MESON BUILD_ROOT SOURCE_ROOT CLASS ...

Python's standard library only. Nothing is built here but by OtherPrefixes; what was built is installed
into a temporary folder.
"""

import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

MESON = sys.argv[1]
BUILD, SOURCE = (pathlib.Path(path).resolve() for path in sys.argv[2:4])
EXAMPLES = SOURCE / "tests" / "examples"
CHARTS = ["ammonia", "biofilm", "day", "nitrogen", "overview", "oxygen", "ph_alkalinity", "trays"]
HEADERS = ["api.h", "chem.h", "ensemble.h", "flat.h", "status.h", "towerloop.h"]
SCENARIO = "pump-failure.yaml"


def run(*command, status=0, env=None, **options):
    process = subprocess.run([str(word) for word in command], stdin=subprocess.DEVNULL,
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                             encoding="utf-8", env=env, timeout=900, check=False, **options)
    if process.returncode != status:
        raise AssertionError(f"{command} ended with {process.returncode}\n{process.stdout}\n"
                             f"{process.stderr}")
    return process


def build_options(build):
    listed = json.loads(run(MESON, "introspect", "--buildoptions", build).stdout)
    return {option["name"]: option["value"] for option in listed}


class Installed(unittest.TestCase):
    """An installation of `build` in a folder of its own; `root` stands for its prefix."""
    build = BUILD

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="towerloop-install-"))
        self.addCleanup(shutil.rmtree, self.folder)
        self.away = self.folder / "elsewhere"
        self.away.mkdir()
        self.options = build_options(self.build)
        self.install()
        self.lib = self.root / self.options["libdir"]
        self.program = self.root / self.options["bindir"] / "towerloop"
        self.share = self.root / self.options["datadir"]
        self.env = {"PATH": os.environ.get("PATH", "/usr/bin:/bin"), "HOME": str(self.folder)}

    def install(self):
        self.dest = self.folder / "dest"
        self.root = self.dest / self.options["prefix"].lstrip("/")
        run(MESON, "install", "-C", self.build, "--no-rebuild", "--quiet", "--destdir", self.dest)

    def pkg_config(self, *arguments):
        env = dict(self.env, PKG_CONFIG_PATH=str(self.lib / "pkgconfig"))
        if self.dest:
            env["PKG_CONFIG_SYSROOT_DIR"] = str(self.dest)
        return run("pkg-config", *arguments, "towerloop", env=env).stdout

    def summary(self, *options):
        """What the installed program finds out about the example that is installed with it."""
        out = self.away / "out"
        self.scenario = self.away / SCENARIO
        shutil.copy(self.share / "doc" / "towerloop" / "examples" / SCENARIO, self.scenario)
        run(self.program, "run", SCENARIO, "--out", out, "--force", *options, cwd=self.away,
            env=self.env)
        return json.loads((out / "summary.json").read_text(encoding="utf-8"))

    def check_program(self):
        self.summary()
        if shutil.which("gnuplot", path=self.env["PATH"]):
            pictures = {path.name for path in (self.away / "out" / "charts").iterdir()}
            self.assertEqual(pictures, {f"{c}.{kind}" for c in CHARTS for kind in ("png", "svg")})


class Tree(Installed):
    def test_files(self):
        version = run(self.program, "--version").stdout.split()[1]
        found = {str(path.relative_to(self.root)) for path in self.root.rglob("*")
                 if not path.is_dir()}
        scenarios = {path.name for path in (SOURCE / "scenarios").iterdir()} - {"demo", "lessons"}
        lib, share = self.options["libdir"], self.options["datadir"]
        expected = {f"{self.options['bindir']}/towerloop", f"{lib}/pkgconfig/towerloop.pc",
                    f"{self.options['mandir']}/man1/towerloop.1",
                    f"{share}/bash-completion/completions/towerloop"}
        expected |= {f"{lib}/libtowerloop.so{end}" for end in ("", ".0", f".{version}")}
        expected |= {f"{self.options['includedir']}/towerloop/{name}" for name in HEADERS}
        expected |= {f"{share}/towerloop/plots/{path.name}" for path in (SOURCE / "plots").glob("*.gp")}
        expected |= {f"{share}/towerloop/lessons/{path.name}" for path in (SOURCE / "scenarios" / "lessons").iterdir()
                     if path.suffix in (".lesson", ".yaml", ".terms")}
        expected |= {f"{share}/doc/towerloop/examples/{name}" for name in scenarios}
        documents = ("README.md", "LICENSE", "MODEL.md", "guide.md", "reference.md", "results.md")
        expected |= {f"{share}/doc/towerloop/{name}" for name in documents}
        self.assertEqual(found, expected)

    def test_the_program_runs_from_anywhere(self):
        self.check_program()

    def test_read_only_and_called_by_somebody_else(self):
        """Nothing is written where the program lies, and nothing but its own files is asked for."""
        self.summary()
        result = (self.away / "out" / "summary.json").read_bytes()
        for path in (self.dest, *self.dest.rglob("*")):
            if not path.is_symlink():
                path.chmod(path.stat().st_mode & 0o555)
        before = {str(path): path.lstat().st_mtime_ns for path in self.dest.rglob("*")}
        guest = self.folder / "guest"
        guest.mkdir()
        shutil.copy(self.scenario, guest)
        for path in (self.folder, guest):
            path.chmod(0o777)
        user = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}
        for args in (["run", SCENARIO, "--out", "out", "--report"], ["lesson", "ph", "--answer", "1"],
                     ["endure", SCENARIO, "--card"]):
            run(self.program, *args, cwd=guest, env={"PATH": self.env["PATH"], "HOME": "/nonexistent"}, umask=0o077, **user)
        self.assertEqual((guest / "out" / "summary.json").read_bytes(), result)
        self.assertEqual(before, {str(path): path.lstat().st_mtime_ns for path in self.dest.rglob("*")})
        if os.geteuid() == 0:
            self.assertEqual({path.stat().st_uid for path in (guest / "out").rglob("*")}, {65534})
        for path in (self.dest, *self.dest.rglob("*")):
            if path.is_dir() and not path.is_symlink():
                path.chmod(0o755)

    def test_the_lessons_are_the_installed_ones(self):
        lesson = self.share / "towerloop" / "lessons" / "ph.lesson"
        text = lesson.read_text(encoding="utf-8")
        lesson.write_text(text.replace("title: Why pH sets the poison in ammonia", "title: Here it is"), encoding="utf-8")
        run(self.program, "lesson", "ph", "--no-charts", cwd=self.away, env=self.env)
        self.assertIn("Here it is\n", run(self.program, "lesson", cwd=self.away, env=self.env).stdout)

    @unittest.skipUnless(shutil.which("gnuplot"), "gnuplot is not installed")
    def test_the_charts_come_from_the_installed_scripts(self):
        script = self.share / "towerloop" / "plots" / "oxygen.gp"
        script.write_text("this is no gnuplot\n", encoding="utf-8")
        with self.assertRaises(AssertionError) as caught:
            self.check_program()
        self.assertIn('"oxygen.gp" line 1', str(caught.exception))

    def test_nothing_names_the_place_it_was_built_in(self):
        debug = self.options["debug"]
        for path in self.root.rglob("*"):
            if path.is_dir():
                continue
            data = path.read_bytes()
            self.assertNotIn(bytes(SOURCE / "plots"), data, path)
            self.assertNotIn(bytes(SOURCE / "scenarios" / "lessons"), data, path)
            if not (debug and data.startswith(b"\x7fELF")): # the debugger wants to know
                self.assertNotIn(bytes(SOURCE), data, path)
                self.assertNotIn(bytes(BUILD), data, path)

    def test_the_library_is_found_by_the_rules(self):
        library = run("readelf", "-d", self.lib / "libtowerloop.so").stdout
        program = run("readelf", "-d", self.program).stdout
        self.assertIn("Library soname: [libtowerloop.so.0]", library)
        for text in (library, program):
            self.assertNotIn("RPATH", text)
            self.assertNotIn("RUNPATH", text)

    def test_pkg_config(self):
        self.assertEqual(self.pkg_config("--modversion").strip(),
                         run(self.program, "--version").stdout.split()[1])
        self.assertIn("-ltowerloop", self.pkg_config("--libs"))
        self.assertNotIn("-lgsl", self.pkg_config("--libs"))
        static = self.pkg_config("--libs", "--static")
        for name in ("-lgsl", "-lyaml", "-ljansson"):
            self.assertIn(name, static)

    def test_each_header_stands_alone(self):
        source = self.away / "alone.c"
        for name in HEADERS:
            source.write_text(f"#include <towerloop/{name}>\ntypedef int nothing_else;\n",
                              encoding="utf-8")
            run("cc", "-std=c99", "-pedantic-errors", "-Wall", "-Wextra", "-Werror", "-fsyntax-only",
                "-I", self.root / self.options["includedir"], source)


class Example(Installed):
    """One little program in three languages, each against what towerloop itself finds out."""

    def check(self, *command):
        summary = self.summary("--no-charts")
        worst = next(limit["worst"] for limit in summary["limits"]
                     if limit["name"] == "un-ionised ammonia")
        env = dict(self.env, LD_LIBRARY_PATH=str(self.lib))
        lines = run(*command, self.scenario, env=env, cwd=self.away).stdout.splitlines()
        self.assertEqual(lines[0], summary["verdict"])
        self.assertTrue(lines[1].startswith(f"un-ionised ammonia: {worst:.9g} mg/L as N"), lines[1])
        self.assertGreater(float(lines[2].partition("highest row: ")[2]), 0.9 * worst)

        # a fault is told with its line
        self.scenario.write_text("format: 1\nlength: 3 m\n", encoding="utf-8")
        told = run(*command, self.scenario, env=env, cwd=self.away, status=2).stderr
        self.assertIn('scenario:2:9: length: "3 m" is a length, not a time', told)


class C(Example):
    def test_example(self):
        program = self.away / "worst"
        run("cc", "-O2", "-Wall", "-Wextra", "-Werror", EXAMPLES / "worst.c", "-o", program,
            *self.pkg_config("--cflags", "--libs").split())
        self.check(program)


class Python(Example):
    def test_example(self):
        self.check(sys.executable, EXAMPLES / "worst.py")


class R(Example):
    def test_example(self):
        rscript = shutil.which("Rscript")
        self.assertIsNotNone(rscript, "on Debian: apt install r-base-core")
        script = self.away / "with_library.R"
        script.write_text((EXAMPLES / "worst.R").read_text(encoding="utf-8").replace(
            '"libtowerloop.so.0"', f'"{self.lib}/libtowerloop.so.0"'), encoding="utf-8")
        self.check(rscript, script)


class OtherPrefixes(unittest.TestCase):
    """As a packager builds it, and as someone without rights does. Both are built anew."""

    def build(self, prefix, folder):
        build = folder / "build"
        run(MESON, "setup", build, SOURCE, "--buildtype=release", "--prefix", prefix)
        library = next(line for line in run("ninja", "-C", build, "-t", "targets", "all")
                       .stdout.splitlines() if line.startswith("src/lib/libtowerloop.so."))
        run("ninja", "-C", build, "src/cli/towerloop", library.partition(":")[0])
        return build

    def test_usr_into_a_package(self):
        folder = pathlib.Path(tempfile.mkdtemp(prefix="towerloop-install-"))
        self.addCleanup(shutil.rmtree, folder)
        Packaged.build = self.build("/usr", folder)
        self.check(Packaged)

    def test_a_home(self):
        folder = pathlib.Path(tempfile.mkdtemp(prefix="towerloop-install-"))
        self.addCleanup(shutil.rmtree, folder)
        AtHome.home = folder / "home" / "x"
        AtHome.build = self.build(AtHome.home, folder)
        self.check(AtHome)

    def check(self, tests):
        result = unittest.TestResult()
        unittest.defaultTestLoader.loadTestsFromTestCase(tests).run(result)
        for _, trouble in result.errors + result.failures:
            self.fail(trouble)
        self.assertGreater(result.testsRun, 0)


class Packaged(Installed):
    def test_in_place(self):
        self.assertEqual(self.root, self.dest / "usr")
        self.check_program()
        self.assertIn("-ltowerloop", self.pkg_config("--libs"))


class AtHome(Installed):
    def install(self):
        self.dest = None
        self.root = self.home
        run(MESON, "install", "-C", self.build, "--no-rebuild", "--quiet")

    def test_in_place(self):
        self.check_program()
        self.assertIn(str(self.home), self.pkg_config("--cflags"))


unittest.main(argv=["install", "-v", *sys.argv[4:]])
