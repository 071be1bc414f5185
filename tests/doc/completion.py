"""The completion for bash offers what there is: commands, options, words and files.

usage: completion.py PROGRAM COMPLETION
"""

import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

PROGRAM, COMPLETION = (str(pathlib.Path(path).resolve()) for path in sys.argv[1:3])

# Typed as bash hands them over: the line's words, the last being completed.
SCRIPT = """
source "$1"; shift
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1))
_towerloop "$1" "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
printf '%s\\n' "${COMPREPLY[@]}"
"""


def offers(*words, cwd=None):
    process = subprocess.run(["bash", "-c", SCRIPT, "bash", COMPLETION, PROGRAM, *words], cwd=cwd,
                             capture_output=True, text=True, check=True, stdin=subprocess.DEVNULL)
    assert process.stderr == "", process.stderr
    return [line for line in process.stdout.splitlines() if line]


def help_of(*command):
    return subprocess.run([PROGRAM, *command, "--help"], capture_output=True, text=True,
                          check=True).stdout


COMMANDS = re.findall(r"^  ([a-z]+) ", help_of().partition("commands:")[2], re.MULTILINE)


class Completion(unittest.TestCase):
    def test_commands(self):
        self.assertIn("run", COMMANDS)
        self.assertEqual(offers(""), [*COMMANDS, "--help", "--version"])
        self.assertEqual(offers("ru"), ["run"])
        self.assertEqual(offers("--v"), ["--version"])

    def test_every_option_of_every_command(self):
        for command in COMMANDS:
            known = re.findall(r"^  (?:-\w, |    )(--[\w-]+)", help_of(command), re.MULTILINE)
            self.assertIn("--help", known)
            self.assertEqual(offers(command, "-"), known, command)
            for option in known:
                self.assertIn(option, offers(command, option[:4]))

    def test_words(self):
        self.assertEqual(offers("run", "--units", ""), ["metric", "us"])
        self.assertEqual(offers("run", "x.yaml", "--units", "u"), ["us"])
        self.assertEqual(offers("run", "--fail-on", ""), ["caution", "danger"])
        self.assertEqual(offers("run", "--fail-on", "=", "d"), ["danger"])
        self.assertEqual(offers("run", "--fail-on", "="), ["caution", "danger"])
        self.assertEqual(offers("chart", "--format", ""), ["png", "svg", "pdf"])
        self.assertEqual(offers("chart", "--format", "png,s"), ["png,svg"])
        self.assertEqual(offers("run", "--set", "tow"), [])
        lessons = re.findall(r"^  ([a-z]+) ", subprocess.run([PROGRAM, "lesson"], capture_output=True, text=True,
                                                             check=True).stdout, re.MULTILINE)
        self.assertIn("cycling", lessons)
        self.assertEqual(offers("lesson", ""), lessons)
        self.assertEqual(offers("lesson", "cy"), ["cycling"])

    def test_every_option_with_an_argument_is_thought_of(self):
        """A new option that takes one of a few words must be completed too."""
        seen = set()
        for command in COMMANDS:
            seen.update(re.findall(r"^  (?:-\w, |    )--([\w-]+) [A-Z]", help_of(command),
                                   re.MULTILINE))
        source = pathlib.Path(COMPLETION).read_text(encoding="utf-8")
        for option in seen:
            self.assertIn(f"*:--{option}", source)

    def test_files(self):
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            for file in ("my pond.yaml", "readings.csv", "notes.txt"):
                (folder / file).touch()
            (folder / "out").mkdir()
            self.assertEqual(offers("run", "", cwd=folder), ["out", "my pond.yaml", "readings.csv"])
            self.assertEqual(offers("run", "my", cwd=folder), ["my pond.yaml"])
            self.assertEqual(offers("run", "--out", "", cwd=folder), ["out"])
            self.assertEqual(offers("run", "-o", "o", cwd=folder), ["out"])
            self.assertEqual(offers("chart", "", cwd=folder), ["out"])
            self.assertEqual(offers("chart", "--quiet", "", cwd=folder), ["out"])
            self.assertEqual(offers("keys", "", cwd=folder), [])


unittest.main(argv=["completion", "-v"])
