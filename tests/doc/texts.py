"""Gathers every English text of the program in one catalogue, and compares it with the one that is
kept: a translator's starting point.

usage: texts.py SOURCE_ROOT    (TOWERLOOP_WRITE_TEXTS=1 writes the catalogue instead)

GNU xgettext finds the strings; those of a single word are names for machines as often as words for
people, so only what has words with a blank between them is kept.
"""

import os
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(sys.argv[1]).resolve()
CATALOGUE = ROOT / "src" / "doc" / "texts.pot"
HEADER = "# Every text of the program in English, gathered by tests/doc/texts.py.\n"


def gathered():
    files = sorted(str(p.relative_to(ROOT)) for folder in ("src", "include")
                   for p in (ROOT / folder).rglob("*.[ch]"))
    done = subprocess.run(
        ["xgettext", "--extract-all", "--language=C", "--from-code=UTF-8", "--add-location=file",
         "--no-wrap", "--omit-header", "--output=-", *files],
        cwd=ROOT, capture_output=True, text=True, errors="replace", check=True)
    entries = [e for e in done.stdout.split("\n\n") if "msgid" in e]
    kept = [e.strip("\n") for e in entries if re.search(r"[A-Za-z]{2,}[,;:.)]* \(?[A-Za-z%]", e.split("msgid", 1)[1])]
    return HEADER + 'msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n\n' + "\n\n".join(kept) + "\n"


def main():
    text = gathered()
    if os.environ.get("TOWERLOOP_WRITE_TEXTS") == "1":
        CATALOGUE.write_text(text)
        return
    known = set(CATALOGUE.read_text().split("\n\n")) if CATALOGUE.exists() else set()
    fresh = set(text.split("\n\n"))
    for entry in sorted(fresh - known):
        print("+", entry)
    for entry in sorted(known - fresh):
        print("-", entry)
    if fresh != known:
        raise SystemExit(f"{CATALOGUE.name} is out of date; TOWERLOOP_WRITE_TEXTS=1 writes it anew")


main()
