"""The commands and their options in the manual page, made from the program's own help.

usage: man_commands.py PROGRAM PAGE [--write]

Compares the part of PAGE between the two marks with what the help of PROGRAM says and exits with 1 if
they differ; with --write it is brought up to date instead.
"""

import difflib
import pathlib
import re
import subprocess
import sys
import textwrap

BEGIN, END = '.\\" BEGIN COMMANDS\n', '.\\" END COMMANDS\n'
OPTION = re.compile(r" {2}(?:-(?P<letter>\w), | {4})--(?P<name>[\w-]+)(?: (?P<argument>[^\s]+))? +(?P<help>.*)")


def help_of(program, *command):
    return subprocess.run([program, *command, "--help"], check=True, capture_output=True, text=True,
                          encoding="utf-8").stdout


def text(line):
    """Plain words for mdoc: nothing in them is a request, and each sentence begins a line."""
    sentences = re.split(r"(?<=[a-z0-9)][.?!]) +(?=[A-Z])", line.replace("\\", "\\e"))
    lines = [part for words in sentences for part in textwrap.wrap(words, 78)]
    return "".join(("\\&" if part[0] in ".'" else "") + part + "\n" for part in lines)


def escaped(words):
    return words.replace("\\", "\\e").replace("-", "\\-")


def more_text(lines):
    """What stands below the options: lines that are set in are examples, all else is filled."""
    page, words = "", []

    def flush():
        nonlocal page
        page += ".Pp\n" + text(" ".join(words)) if words else ""
        words.clear()

    for line in lines:
        if line.startswith("  "):
            flush()
            example = escaped(line.strip()).replace('"', "\\(dq")
            page += f".Dl {example}\n"
        elif line.strip():
            words.append(line.strip())
        else:
            flush()
    flush()
    return page


def command_section(program, name):
    lines = help_of(program, name).split("\n")
    page = f".Ss {name}\n.Dl {escaped(lines[2].partition('usage: ')[2])}\n.Pp\n"
    page += text(lines[0].partition(": ")[2])
    rest = lines[4:]
    options = ""
    while rest and rest[0].strip():
        match = OPTION.fullmatch(rest.pop(0))
        if not match:
            raise SystemExit(f"towerloop {name} --help: an option is written in an unknown way")
        if match["name"] in ("help", "version"):
            continue
        options += ".It " + (f"Fl {match['letter']} , " if match["letter"] else "")
        options += f"Fl \\-{escaped(match['name'])}"
        options += f" Ar {escaped(match['argument'])}\n" if match["argument"] else "\n"
        options += text(match["help"])
    if options:
        page += ".Bl -tag -width Ds\n" + options + ".El\n"
    return page + more_text(rest)


def main():
    program, page = sys.argv[1], pathlib.Path(sys.argv[2])
    names = re.findall(r"^  ([a-z]+) +\S", help_of(program).partition("commands:")[2], re.MULTILINE)
    made = "".join(command_section(program, name) for name in names)
    before, begin, rest = page.read_text(encoding="utf-8").partition(BEGIN)
    kept, end, after = rest.partition(END)
    if not (names and begin and end):
        raise SystemExit(f"{page}: the marks are missing, or the program names no commands")
    if sys.argv[3:] == ["--write"]:
        page.write_text(before + BEGIN + made + END + after, encoding="utf-8")
    elif made != kept:
        sys.stdout.writelines(difflib.unified_diff(kept.splitlines(True), made.splitlines(True),
                                                   str(page), "the program's help"))
        raise SystemExit(f"\n{page} is out of date; mend it with\n"
                         f"    {sys.argv[0]} {program} {page} --write")


main()
