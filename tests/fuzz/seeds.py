#!/usr/bin/env python3
"""First inputs for the harnesses and their dictionaries, out of what the project has.

usage: seeds.py PROGRAM SOURCE_ROOT FOLDER

PROGRAM is a towerloop to be asked for its keys and for results of small runs. Below FOLDER each harness gets a
folder of inputs, and NAME.dict, a dictionary in libFuzzer's form.
"""

import csv
import json
import pathlib
import re
import subprocess
import sys
import tempfile

# Shorter than the two days of tests/fuzz/finished.c, so that results are small inputs.
POND = """format: 1
start: 2027-05-01
length: 2 d
report every: 6 h
temperature: 20 degC
tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}
settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}
pump: {flow: 1200 gal/h}
tower: {trays: 2, media depth: 3 in, plan area: 4 ft2, media: lava rock, biofilm: new}
source water: {alkalinity: 120 mg/L as CaCO3, pH: 7.8}
fish: [{name: koi, count: 50, mean mass: 500 g}]
feeding: {ration: 1 %/d, protein: 38 %, meals: [08:00]}
variants: [{name: more trays, set: {tower.trays: 4}}]
"""

WEATHER = """time_iso,air_temperature_degC,humidity_pct,wind_m_s,cloud_pct,sun_W_m2
2027-05-01T00:00:00,10,80,1.5,50,0
2027-05-01T12:00:00,18.5,60,2,40,600
2027-05-02T00:00:00,9,85,,60,0
2027-05-31T00:00:00,12,70,1,50,0
"""
LOGS = {
    "weather": WEATHER,
    "temperature": "time_d,temperature_degC\n0,18\n10.5,19.25\n30,21\n",
    "feed_log": "time_iso,feed_g\n2027-05-01T08:00,250\n2027-05-02T08:00:30,180.5\n",
    "deliveries": "time_iso,name,count,mean_mass_g\n2027-05-03,koi,20,450\n2027-05-05T10:00,koi,-10,\n",
}
CSV_WORDS = ["\\xef\\xbb\\xbf", "\\x0d\\x0a", "\\x00", "\\x22\\x22", ",,", "1e308", "-1e308", "1e-320", "nan", "inf", "0x1p3"]
YAML_WORDS = ["&a ", "*a", "<<: ", "!!str ", "---\\x0a", "...\\x0a", "? ", "{", "}", "[", "]", "| ", "> ", "- ", ": ",
              "\\xef\\xbb\\xbf", "\\x00", "\\x0d\\x0a", "\\xff", "\\xc0\\x80", "\\xe2\\x80\\xa8", "%YAML 1.1\\x0a",
              "\\\\u0000", "1e308", "1e-320", "day 0", "day 1 12:00", "100 %", "none"]


class Seeds:
    def __init__(self, program, source, folder):
        self.program, self.source, self.folder = program, source, folder

    def put(self, harness, name, data):
        place = self.folder / harness
        place.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(data if isinstance(data, bytes) else data.encode())

    def put_files(self, harness, paths, largest=1 << 16):
        for path in sorted(paths):
            data = path.read_bytes()
            if path.suffix == ".json": # without its blanks: a shorter way for the fuzzer
                data = json.dumps(json.loads(data), separators=(",", ":")).encode()
            if len(data) <= largest:
                self.put(harness, f"{path.parent.name}-{path.name}", data)

    def run(self, *arguments, cwd):
        done = subprocess.run([self.program, *arguments], cwd=cwd, capture_output=True, text=True, check=False)
        if done.returncode not in (0, 1, 3):
            sys.exit(f"{arguments}: {done.stderr}")
        return done.stdout

    def dictionary(self, harness, words, escaped=()):
        lines = []
        for word in sorted(set(words)):
            if 1 < len(word.encode()) <= 60:
                text = "".join(chr(b) if 32 <= b < 127 and chr(b) not in '"\\' else f"\\x{b:02x}"
                               for b in word.encode())
                lines.append(f'"{text}"\n')
        lines += [f'"{word}"\n' for word in escaped]
        (self.folder / f"{harness}.dict").write_text("".join(lines))


def json_words(value):
    """Keys and texts of a document."""
    if isinstance(value, dict):
        for key, below in value.items():
            yield key
            yield from json_words(below)
    elif isinstance(value, list):
        for below in value:
            yield from json_words(below)
    elif isinstance(value, str):
        yield value


def key_words(keys):
    """Names of keys and what they take."""
    for key in keys:
        yield key["name"]
        yield key["path"]
        for form in key["forms"]:
            yield from form.get("words") or ()
            yield from (" " + unit for unit in form.get("units") or ())


def yaml_seeds(seeds, keys):
    source = seeds.source
    paths = [*source.glob("scenarios/**/*.yaml"), *source.glob("tests/bad/**/*.yaml"),
             *source.glob("tests/bench/*.yaml"), *source.glob("tests/data/*.yaml")]
    blocks = re.findall(r"```yaml\n(.*?)```", (source / "README.md").read_text(), re.DOTALL)
    for harness in ("scenario", "run"):
        seeds.put_files(harness, paths)
        seeds.put(harness, "pond", POND)
        for i, block in enumerate(blocks):
            seeds.put(harness, f"front-page-{i}", block)
        seeds.dictionary(harness, key_words(keys), YAML_WORDS)


def unit_seeds(seeds, keys):
    units = {unit for key in keys for form in key["forms"] for unit in form.get("units") or ()}
    for i, unit in enumerate(sorted(units)):
        seeds.put("units", f"unit-{i}", f"1.5 {unit}")
    with open(seeds.source / "tests/data/units.csv", encoding="utf-8") as f:
        for i, row in enumerate(csv.reader(line for line in f if not line.startswith("#"))):
            for k, cell in enumerate(row):
                if cell[:1].isdigit():
                    seeds.put("units", f"published-{i}-{k}", cell)
    seeds.dictionary("units", {*units, *(" " + unit for unit in units)}, ["\\xc2\\xb2", "\\xc2\\xa0", "1e308", "1e-320"])


def csv_seeds(seeds, series):
    paths = [*seeds.source.glob("tests/bad/**/*.csv"), *seeds.source.glob("scenarios/*.csv")]
    headers = set()
    for path in paths:
        headers.update(path.read_bytes().split(b"\n")[0].decode("utf-8", "replace").strip().split(","))
    for text in LOGS.values():
        headers.update(text.split("\n")[0].split(","))
    for harness, text in LOGS.items():
        seeds.put_files(harness, [p for p in paths if p.parent.name != "measured"])
        seeds.put(harness, "good", text)
        seeds.dictionary(harness, headers, CSV_WORDS)
    seeds.put_files("measured", [p for p in paths if p.parent.name == "measured" or "readings" in p.name])
    with open(seeds.source / "tests/bad/measured/good.csv", encoding="utf-8") as f:
        words = {cell for row in csv.reader(f) for cell in row}
    seeds.dictionary("measured", words | headers, CSV_WORDS)
    seeds.put("series", "pond", series)
    for rows in (3, 2, 1):
        seeds.put("series", f"rows-{rows}", "\n".join(series.split("\n")[:rows]) + "\n")
    columns = series.split("\n")[0].split(",")
    narrow = [",".join(row.split(",")[:6]) for row in series.strip().split("\n")]
    seeds.put("series", "narrow", "\n".join(narrow) + "\n")
    day = ["time_d," + columns[2]] + [f"{hour / 24},{hour % 7}" for hour in range(49)]
    seeds.put("series", "hours", "\n".join(day) + "\n")
    seeds.dictionary("series", {*columns, "tray99_aob_gCOD_m2", "tray1_aob_gCOD_m2"}, CSV_WORDS)


def result_seeds(seeds):
    """Files of a run, a comparison, a sizing and a study of failures."""
    with tempfile.TemporaryDirectory() as name:
        place = pathlib.Path(name)
        (place / "pond.yaml").write_text(POND)
        quiet = ["--quiet", "--no-charts"]
        seeds.run("run", "pond.yaml", "--out", "run", "--quiet", cwd=place)
        seeds.run("compare", "pond.yaml", "--out", "compare", *quiet, cwd=place)
        seeds.run("size", "pond.yaml", "--least", "tower.trays", "--out", "size", *quiet, cwd=place)
        seeds.run("endure", "pond.yaml", "--out", "endure", *quiet, cwd=place)
        seeds.run("spread", "pond.yaml", "--runs", "10", "--out", "spread", *quiet, cwd=place)
        for path in place.glob("spread/**/*.block"): # without what the harness puts around it
            seeds.put("block", path.name, path.read_bytes()[28:-8])
        seeds.put("block", "short", bytes(2 * 300))
        files = {
            "spread": place.glob("spread/spread.json"),
            "summary": place.glob("run/summary.json"),
            "calendar": place.glob("run/calendar.csv"),
            "compare": place.glob("compare/compare.json"),
            "study": [*place.glob("*/study.json")],
            "kept": place.glob("size/*.json"),
            "svg": place.glob("run/charts/*.svg"),
        }
        for harness, paths in files.items():
            paths = list(paths)
            if not paths:
                sys.exit(f"no file for {harness}")
            seeds.put_files(harness, paths)
            words = {"case", "print", "figures", "oxygen", "need_g_d", "fault", "never"} if harness == "kept" else set()
            for path in paths:
                if path.suffix == ".json":
                    words.update(json_words(json.loads(path.read_text())))
            if words:
                seeds.dictionary(harness, words, ["null", "true", "1e308", "\\\\u0000", "\\\\ud800", "[[", "{}"])
        case = {"case": "failure_power", "print": "x", "figures": [1.5, "never", None] * 20, "oxygen": [8.5, None, 2],
                "need_g_d": None, "fault": ""} # is gone when the study has ended
        seeds.put("kept", "case", json.dumps(case))
        for path in place.glob("run/charts/*.svg"): # long ones by their beginning
            text = path.read_text()
            seeds.put("svg", f"begin-{path.name}", text[:6000] + "</g></svg>")
        seeds.put("svg", "small", '<svg width="9" height="9" viewBox="0 0 9 9"><g id="a"><path d="M0,0"/>'
                  '<text x="1">a &amp; b<tspan>c</tspan></text><use href="#a"/></g></svg>')
        tags = re.findall(r"<\w+|\b[\w:-]+=", "".join(p.read_text() for p in place.glob("run/charts/*.svg")))
        seeds.dictionary("svg", set(tags), ["<![CDATA[", "]]>", "<!--", "-->", "&amp;", "</g>", "/>", "<g>", "url("])
        seeds.dictionary("calendar", ["time_iso", "what", "why"], CSV_WORDS)
        return (place / "run/series.csv").read_text()


def lesson_seeds(seeds):
    folder = seeds.source / "scenarios/lessons"
    seeds.put_files("lesson", folder.glob("*.lesson"))
    seeds.put_files("glossary", folder.glob("*.terms"))
    texts = "".join(path.read_text() for path in folder.glob("*.lesson"))
    header = (seeds.source / "src/lesson/lesson.h").read_text()
    words = set(re.findall(r"^\s*(?:- )?\{?(\w[\w ]*): ", texts, re.MULTILINE))
    words |= set(re.findall(r'X\(\w+, "([^"]+)"\)', header)) | set(re.findall(r"\{\w+(?::\w+)?\}", texts))
    seeds.dictionary("lesson", words, YAML_WORDS)
    seeds.dictionary("glossary", ["word: meaning"], YAML_WORDS)


def main():
    program, source, folder = (pathlib.Path(a).resolve() for a in sys.argv[1:4])
    seeds = Seeds(program, source, folder)
    folder.mkdir(parents=True, exist_ok=True)
    keys = json.loads(seeds.run("keys", "--json", cwd=source))["keys"]
    yaml_seeds(seeds, keys)
    unit_seeds(seeds, keys)
    csv_seeds(seeds, result_seeds(seeds))
    lesson_seeds(seeds)
    for place in sorted(p for p in folder.iterdir() if p.is_dir()):
        files = list(place.iterdir())
        print(f"{place.name}: {len(files)} inputs, {sum(f.stat().st_size for f in files)} bytes")


main()
