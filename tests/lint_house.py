"""House rules that no compiler knows: who may include whom, who may print, what is external.

usage: lint_house.py SOURCE_ROOT [BUILD_ROOT]

Prints one line a breach and exits with 1 if there is any.
"""

import pathlib
import re
import subprocess
import sys

# Lowest first; a layer includes itself and those before it.
LAYERS = ["base", "units", "chem", "model", "scenario", "engine", "result", "sample", "study", "report", "html", "lesson", "lib", "cli"]

# The layer that each public header belongs to.
PUBLIC = {
    "advice.h": "study", "assess.h": "study", "chart.h": "report", "chem.h": "chem", "component.h": "model", "diag.h": "base", "distribution.h": "scenario",
    "endure.h": "study", "engine.h": "engine", "keys.h": "scenario", "ledger.h": "result", "limits.h": "model", "model.h": "model",
    "air.h": "chem", "sun.h": "chem", "heat.h": "chem", "heat_course.h": "model", "api.h": "base", "flat.h": "lib", "towerloop.h": "lib",
    "params.h": "model", "pipe.h": "chem", "settling.h": "chem", "solids.h": "result", "pump.h": "model", "ranges.h": "result", "scenario.h": "scenario", "measured.h": "scenario", "media.h": "scenario", "series.h": "result",
    "setup.h": "model", "inlet.h": "model", "status.h": "base", "summary.h": "result", "units.h": "units",
    "verdict.h": "result", "upkeep.h": "result", "daily.h": "result", "sample.h": "sample", "remedy.h": "sample", "handbook.h": "study",
    "shock.h": "model", "shock_watch.h": "result", "still_watch.h": "result",
    "run_end.h": "result", "film_proof.h": "result",
    "ponds.h": "study", "ensemble.h": "lib", "stock.h": "model", "extremes.h": "result", "given.h": "result", "algae.h": "result", "bed.h": "result",
}

# The headers of the system; getopt.h comes with every C library and belongs to the options alone.
SYSTEM = (r"#include <((sys|net|netinet|arpa)/.*|aio|dirent|dlfcn|fcntl|fnmatch|ftw|glob|grp|iconv|langinfo|"
          r"libgen|locale|netdb|poll|pthread|pwd|regex|sched|semaphore|signal|spawn|strings|syslog|termios|"
          r"ucontext|unistd|utime|wordexp)\.h>")

# pattern in the code, the only layers or files where it is allowed, what to do instead
ONLY_IN = [
    (r"\bgsl_odeiv2", {"engine"}, "the integrator is the engine's business"),
    (r"\b(printf|puts|putchar|perror|exit|_exit|abort)\s*\(", {"cli"}, "return a status; cli prints"),
    (r"\b(stdout|stderr)\b", {"cli"}, "take a FILE * from the caller"),
    (r"\b(system|popen|execlp|execvp|execl)\s*\(", set(), "start programs without a shell"),
    (r"\b(atof|setlocale|localtime|rand)\s*\(", set(), "depends on the locale or hidden state"),
    (r"\bstrtod\s*\(", {"base/text.c"}, "depends on the locale; take tl_strtod"),
    (SYSTEM, {"base/posix.c"}, "what the system does is in src/base/posix.h"),
    (r"#include <getopt\.h>", {"cli/options.c"}, "options are read in src/cli/options.c"),
    (r"\bv?asprintf\s*\(", set(), "not in every C library; take tl_text_addf"),
]


def code_of(path):
    """The text with comments and string literals blanked, so that only code is searched."""
    blank = lambda match: re.sub(r"[^\n]", " ", match.group(0))
    return re.sub(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"', blank, path.read_text(encoding="utf-8"),
                  flags=re.DOTALL)


def check_includes(source, breach):
    private = {}
    for path in source.glob("src/*/*.h"):
        private.setdefault(path.name, []).append(path.parent.name)
    for path in sorted(source.glob("src/*/*.[ch]")):
        layer = path.parent.name
        for name in re.findall(r'^#include "([^"]+)"', path.read_text(encoding="utf-8"), re.MULTILINE):
            base = name.rpartition("/")[2]
            if name.startswith("towerloop/"):
                owners = [PUBLIC[base]] if base in PUBLIC else []
                if not owners:
                    breach(path, f"{name}: say in tests/lint_house.py which layer it belongs to")
            else:
                owners = private.get(base, [])
            if owners and min(map(LAYERS.index, owners)) > LAYERS.index(layer):
                breach(path, f"includes {name} of the higher layer {owners[0]}")


def check_code(source, breach):
    for path in sorted(source.glob("src/*/*.[ch]")):
        text = path.read_text(encoding="utf-8")
        if not text.startswith("/*"):
            breach(path, "opens without a comment that says what it does")
        code = code_of(path)
        for pattern, layers, instead in ONLY_IN:
            if {path.parent.name, f"{path.parent.name}/{path.name}"} & layers:
                continue
            for match in re.finditer(pattern, code):
                line = code.count("\n", 0, match.start()) + 1
                breach(path, f"line {line}: {match.group(0).strip()}: {instead}")


def check_objects(build, breach):
    """External names start with tl_, and no library keeps state of its own between calls."""
    for archive in sorted(build.glob("src/*/libtl_*.a")):
        run = lambda *command: subprocess.run(command, check=True, capture_output=True, text=True).stdout
        for line in run("nm", "-g", "--defined-only", str(archive)).splitlines():
            fields = line.split()
            if len(fields) == 3 and not re.match(r"tl_|__", fields[2]):
                breach(archive, f"external name {fields[2]} lacks the prefix tl_")
        member = ""
        for line in run("size", "-A", str(archive)).splitlines():
            if ":" in line:
                member = line.split()[0]
            fields = line.split()
            if len(fields) == 3 and re.match(r"\.(data|bss)(\.(?!rel\.ro)|$)", fields[0]) and int(fields[1]) > 0:
                breach(archive, f"{member} keeps {fields[1]} bytes of changeable state ({fields[0]})")


def main():
    source = pathlib.Path(sys.argv[1])
    found = []

    def breach(path, what):
        found.append(f"{path}: {what}")

    check_includes(source, breach)
    check_code(source, breach)
    for build in sys.argv[2:]:
        check_objects(pathlib.Path(build), breach)
    print("\n".join(found) if found else "no breach")
    return 1 if found else 0


sys.exit(main())
