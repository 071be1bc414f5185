"""The front page: what README.md says of the checks against the world outside, and its pictures.

usage: front_page.py PROGRAM SOURCE_ROOT
       TOWERLOOP_WRITE_PICTURES=1 draws the pictures anew (wants gnuplot and Chromium);
       TOWERLOOP_WRITE_DOCUMENTS=1 copies the counts of tests/OUTSIDE.md

The pictures in src/doc/pictures show what the program makes of one scenario. Each holds a stamp of that
run's answer, in a text chunk of the PNG: when the answer changes, the picture is out of date.
"""

import hashlib
import os
import pathlib
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib

sys.dont_write_bytecode = True
PROGRAM = pathlib.Path(sys.argv[1]).resolve()
ROOT = pathlib.Path(sys.argv[2]).resolve()
sys.path.insert(0, str(ROOT / "tests" / "e2e"))
import browser  # noqa: E402

README = ROOT / "README.md"
PICTURES = ROOT / "src" / "doc" / "pictures"
SCENARIO = "stocking-increase"
REPORT_WIDTH, REPORT_HEIGHT = 1160, 900
CARD_WIDTH = 760
MOST_BYTES = 250_000
NAMES = ("chart.png", "report.png", "card.png")
FROM, TO = "<!-- from tests/OUTSIDE.md -->\n", "<!-- so far -->\n"


# --- the answer that the pictures show --------------------------------------------------------------

def run(folder, *words):
    """Standard output of the program."""
    scenario = ROOT / "scenarios" / f"{SCENARIO}.yaml"
    done = subprocess.run([PROGRAM, words[0], scenario, *words[1:], "--out", folder], text=True, capture_output=True,
                          check=True)
    return done.stdout


def stamp_of(answer):
    """Of verdict and limits, to two digits: the third may differ between processors."""
    numbers = lambda found: f"{float(found.group(0)):.2g}"
    return hashlib.sha256(re.sub(r"\d+\.\d+", numbers, answer.split("\nmg/L")[0]).encode()).hexdigest()[:16]


# --- PNG ----------------------------------------------------------------------------------------------

def chunks(png):
    at = 8
    while at < len(png):
        size = struct.unpack(">I", png[at:at + 4])[0]
        yield png[at + 4:at + 8], png[at + 8:at + 8 + size]
        at += 12 + size


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def stamped(png, stamp):
    """The picture with the stamp behind its header, and nothing else that is not the picture."""
    out = png[:8]
    for kind, data in chunks(png):
        if kind in (b"IHDR", b"PLTE", b"IDAT", b"IEND"):
            out += chunk(kind, data)
        if kind == b"IHDR":
            out += chunk(b"tEXt", b"Towerloop\0" + stamp.encode())
    return out


def stamp_in(png):
    for kind, data in chunks(png):
        if kind == b"tEXt" and data.startswith(b"Towerloop\0"):
            return data.partition(b"\0")[2].decode()
    return None


# --- drawing and checking -----------------------------------------------------------------------------

def picture_of(page, width, height=None):
    """Of the top of a page, or of all of it."""
    window = browser.Browser()
    try:
        window.open(page, width=width)
        return window.picture(0, height)
    finally:
        window.close()


def draw(stamp, folder):
    endured = folder.parent / "endured"
    run(endured, "endure", "--card", "--no-charts")
    drawn = {"chart.png": (folder / "charts" / "ammonia.png").read_bytes(),
             "report.png": picture_of(folder / "report.html", REPORT_WIDTH, REPORT_HEIGHT),
             "card.png": picture_of(endured / "card.html", CARD_WIDTH)}
    assert set(drawn) == set(NAMES)
    PICTURES.mkdir(exist_ok=True)
    for name, png in drawn.items():
        (PICTURES / name).write_bytes(stamped(png, stamp))


def check_pictures(stamp, wrong):
    shown = [match for name in ("README.md", "src/doc/guide.md")
             for match in re.findall(r"!\[[^]]{20,}\]\([^)]*pictures/([^)]+)\)", (ROOT / name).read_text())]
    if sorted(shown) != sorted(NAMES):
        wrong.append(f"README.md and the guide show the pictures {shown}, each to be described; expected {NAMES}")
    for name in NAMES:
        png = (PICTURES / name).read_bytes()
        if len(png) > MOST_BYTES:
            wrong.append(f"{name} has {len(png)} bytes, more than {MOST_BYTES}")
        if stamp_in(png) != stamp:
            wrong.append(f"{name} shows another answer than the program gives now; TOWERLOOP_WRITE_PICTURES=1 draws it "
                         "anew")


def check_outside(wrong):
    outside = (ROOT / "tests" / "OUTSIDE.md").read_text()
    counts = re.search(r"^\d+ checks: .*?(?=\n\n\| publication)", outside, re.M | re.S).group(0) + "\n"
    readme = README.read_text()
    before, _, rest = readme.partition(FROM)
    shown, _, after = rest.partition(TO)
    if os.environ.get("TOWERLOOP_WRITE_DOCUMENTS") == "1":
        README.write_text(before + FROM + counts + TO + after)
    elif shown != counts:
        wrong.append("README.md does not have the counts of tests/OUTSIDE.md; TOWERLOOP_WRITE_DOCUMENTS=1 copies them")


def main():
    wrong = []
    place = pathlib.Path(tempfile.mkdtemp(prefix="towerloop-pictures-"))
    try:
        writing = os.environ.get("TOWERLOOP_WRITE_PICTURES") == "1"
        stamp = stamp_of(run(place / "run", "run", "--report" if writing else "--no-charts"))
        if writing:
            draw(stamp, place / "run")
        check_pictures(stamp, wrong)
    finally:
        shutil.rmtree(place)
    check_outside(wrong)
    for line in wrong:
        print(line)
    if wrong:
        raise SystemExit(1)


main()
