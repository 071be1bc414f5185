"""Runs the commands that the documents show and compares what they print.

usage: documents.py PROGRAM SOURCE_ROOT DOCUMENT

A ```console block holds commands behind "$ " and what they print: standard output, then standard
error. A line "..." stands for any lines left out. A ```yaml block behind a line
"<!-- file: NAME -->" is written to NAME first. Commands start in an empty folder with a copy of
scenarios/; "towerloop" is the program under test. With TOWERLOOP_WRITE_DOCUMENTS=1 the printed parts
are brought up to date instead, what is left out stays left out.
"""

import os
import pathlib
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

PROGRAM = pathlib.Path(sys.argv[1]).resolve()
ROOT = pathlib.Path(sys.argv[2]).resolve()
DOCUMENT = ROOT / sys.argv[3]
LEFT_OUT = "..."


def run(command, folder):
    words = shlex.split(command)
    if words[0] == "cat":
        return (folder / words[1]).read_text().splitlines()
    if words[0] != "towerloop":
        raise SystemExit(f"{DOCUMENT.name}: only towerloop and cat are run: {command}")
    environment = {k: v for k, v in os.environ.items() if not k.startswith("LC_")}
    environment |= {"LANG": "C.UTF-8", "PATH": os.environ["PATH"]}
    done = subprocess.run([PROGRAM, *words[1:]], cwd=folder, env=environment, text=True,
                          stdin=subprocess.DEVNULL, capture_output=True, timeout=300)
    return (done.stdout + done.stderr).splitlines()


def parts_of(body):
    """The lines of a console block as (command, lines shown)."""
    parts = []
    for line in body:
        if line.startswith("$ "):
            parts.append((line[2:], []))
        elif line.endswith("\\") and parts and not parts[-1][1] and parts[-1][0].endswith("\\"):
            parts[-1] = (parts[-1][0] + "\n" + line, [])
        elif parts and not parts[-1][1] and parts[-1][0].endswith("\\"):
            parts[-1] = (parts[-1][0] + "\n" + line, [])
        else:
            parts[-1][1].append(line)
    return parts


def matches(shown, printed):
    """Whether `printed` fits `shown`, where LEFT_OUT stands for any lines."""
    text = "\n".join(printed)
    pattern = r"\n".join(r"(?:.*\n)*?.*" if s.strip() == LEFT_OUT else re.escape(s) for s in shown)
    return re.fullmatch(pattern, text) is not None


def renewed(shown, printed):
    """What to show of `printed` so that the same stretches stay left out, by the lines' beginnings."""
    if LEFT_OUT not in [s.strip() for s in shown]:
        return printed
    out, at = [], 0
    for i, line in enumerate(shown):
        if line.strip() != LEFT_OUT:
            if at >= len(printed):
                break
            out.append(printed[at])
            at += 1
            continue
        out.append(line)
        following = shown[i + 1] if i + 1 < len(shown) else None
        if following is None:
            break
        start = re.split(r"\d", following)[0][:24]
        while at < len(printed) and not printed[at].startswith(start):
            at += 1
    return out


def main():
    write = os.environ.get("TOWERLOOP_WRITE_DOCUMENTS") == "1"
    lines = DOCUMENT.read_text().splitlines()
    out, wrong, commands, name = [], [], 0, None
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        shutil.copytree(ROOT / "scenarios", folder / "scenarios")
        i = 0
        while i < len(lines):
            line = lines[i]
            out.append(line)
            i += 1
            named = re.fullmatch(r"<!-- file: (\S+) -->", line)
            name = named.group(1) if named else name
            if not line.startswith("```"):
                continue
            body = []
            while not lines[i].startswith("```"):
                body.append(lines[i])
                i += 1
            if line == "```yaml" and name:
                (folder / name).write_text("\n".join(body) + "\n")
                name = None
            if line == "```console":
                shown_anew = []
                for command, shown in parts_of(body):
                    commands += 1
                    printed = run(command.replace("\\\n", " "), folder)
                    if not matches(shown, printed):
                        wrong.append((command, shown, printed))
                    shown_anew += ["$ " + command.split("\n")[0], *command.split("\n")[1:]]
                    shown_anew += renewed(shown, printed)
                body = shown_anew
            out += [*body, lines[i]]
            i += 1
    if write:
        DOCUMENT.write_text("\n".join(out) + "\n")
        return
    if not commands:
        raise SystemExit(f"{DOCUMENT.name} shows no command")
    for command, shown, printed in wrong:
        print(f"$ {command}\n--- the document shows\n" + "\n".join(shown) +
              "\n--- the program prints\n" + "\n".join(printed) + "\n")
    if wrong:
        raise SystemExit(f"{DOCUMENT.name}: {len(wrong)} of {commands} commands print something else; "
                         "TOWERLOOP_WRITE_DOCUMENTS=1 brings the document up to date")


main()
