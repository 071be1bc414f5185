"""End-to-end tests of `keys` and `check`: the list of keys, its schema, a scenario said back.

usage: keys_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...

Keys and Check need Python's standard library only, Schema the packages jsonschema and yaml.
"""

import json
import re
import shutil
import sys
import unittest

sys.dont_write_bytecode = True
from run_e2e import ROOT, SCENARIOS, SMALL, EndToEnd, towerloop  # noqa: E402

BAD = ROOT / "tests" / "bad"
GOOD = sorted(SCENARIOS.glob("*.yaml")) + [ROOT / "tests" / "data" / "section10_parameters.yaml"]

# What is warned of in a scenario that shows it; nothing in any other.
WARNED = {"medicine-shock.yaml": r"\A(?:.*: warning: .*mg/L of formaldehyde kill about (?:34|76) % .*\n?)+\Z",
          "tap-water.yaml": r"\A.*: warning: source water.chlorine: the water let in on day 30 00:00 .* needs 25.2 g .* and gets 0 g .*"
          r"\n.*: warning: events\[2\]: 10 min in tap water .* rinse media in pond water .*"
          # a variant, which JSON leaves out
          r"(?:\n.*: warning: variant \"a trickle instead\": source water.chlorine: water trickles in .*)?\s*\Z",
          # its story: fish eat before the film wakes
          "spring-warm-up.yaml": r"\A.*: warning: feeding.ration: fed in water below 8 degC on 4 days, .*\s*\Z"}

LIST_MEMBERS = {
    "path", "section", "name", "type", "meaning", "required", "default", "otherwise", "status", "forms",
    "shown",
}
FORM_MEMBERS = {
    "words": {"kind", "words"},
    "number": {"kind", "lead", "whole", "dimension", "unit", "min", "max", "units"},
    "text": {"kind", "pattern"},
    "keys": {"kind", "below"},
    "list": {"kind", "below", "pattern"},
    "table": {"kind", "below"},
    "edits": {"kind"},
}
CHECK_MEMBERS = {"format", "file", "sound", "messages", "scenario", "derived", "defaulted"}


class Told(EndToEnd):
    """Helpers for both commands."""

    def ask(self, *args, status=0):
        process = towerloop(*args)
        self.expect(process, status)
        return process

    def ask_json(self, *args, status=0):
        return json.loads(self.ask(*args, "--json", status=status).stdout)

    def check_lines(self, text):
        for line in text.splitlines():
            self.assertLessEqual(len(line), 80, line)
            self.assertEqual(line, line.rstrip(), "blanks at the end")
        self.assertNotIn("\x1b", text)
        self.assertNotRegex(text, r"(?i)\bnan\b|\binf\b|\(null\)")


class Keys(Told):
    def test_every_key_is_printed_with_its_default_and_values(self):
        for units in ("metric", "us"):
            text = self.ask("keys", "--units", units).stdout
            self.check_lines(text)
            words = " ".join(text.split())
            keys = self.ask_json("keys", "--units", units)["keys"]
            self.assertGreater(len(keys), 180)
            for key in keys:
                shown = key["shown"]
                row = f"{key['path']} {shown['without']} {shown['values']} {key['meaning']}"
                self.assertIn(row, words)

    def test_the_members_are_those_documented(self):
        answer = self.ask_json("keys")
        self.assertEqual((set(answer), answer["format"]), ({"format", "keys", "media"}, 1))
        paths = [key["path"] for key in answer["keys"]]
        self.assertEqual(len(paths), len(set(paths)))
        for key in answer["keys"]:
            self.assertEqual(set(key), LIST_MEMBERS, key["path"])
            joint = "." if key["section"] else ""
            self.assertEqual(key["section"] + joint + key["name"], key["path"])
            self.assertTrue(key["forms"])
            for form in key["forms"]:
                self.assertEqual(set(form), FORM_MEMBERS[form["kind"]], key["path"])
            if key["required"] or key["otherwise"]:
                self.assertIsNone(key["default"], key["path"])
            self.assertEqual(key["status"] is not None,
                             key["section"] in ("parameters", "building") or key["path"] in
                             ("pump.pipe.roughness", "pump.pipe.fittings", "pump.fouling", "sun.noon", "tank.wall heat loss",
                              "weather.humidity", "weather.wind", "weather.cloud"), key["path"])

    def test_media_have_figures_with_a_status(self):
        answer = self.ask_json("keys")
        keys = {key["path"]: key for key in answer["keys"]}
        names = [kind["name"] for kind in answer["media"]]
        self.assertEqual(names, keys["tower.media"]["forms"][0]["words"])
        text = self.ask("keys", "tower.media").stdout
        self.check_lines(text)
        for kind in answer["media"]:
            self.assertIn(kind["meaning"], text)
            self.assertRegex(text, rf"(?m)^{kind['name']} +[0-9.]+ [pmj] ")
            self.assertEqual([figure["key"] for figure in kind["figures"]],
                             [k for k in keys if keys[k]["otherwise"] == "as the media"])
            for figure in kind["figures"]:
                self.assertIn(figure["status"], ("published", "memory", "judgement", "common practice"))
        self.assertNotIn("Media  ", self.ask("keys").stdout)
        self.assertIn("ft2/ft3", self.ask("keys", "tower", "--units", "us").stdout)

    def test_a_word_narrows(self):
        paths = lambda *words: [key["path"] for key in self.ask_json("keys", *words)["keys"]]
        everything = paths()
        self.assertEqual(paths("tank"), [p for p in everything if p == "tank" or p.startswith("tank.")])
        self.assertEqual(paths("fish"), [p for p in everything if re.match(r"fish($|\[)", p)])
        self.assertEqual(paths("VOLUME"), ["tank.volume", "settling chamber.volume"])
        self.assertEqual(paths("water", "change"), paths("water change"))
        self.assertEqual(paths("tank", "pump"),
                         [p for p in everything if re.match(r"(tank|pump)($|\.)", p)])
        self.assertEqual(paths("settling chamber.volume"), ["settling chamber.volume"])
        narrowed = self.ask("keys", "tank.volume").stdout
        self.check_lines(narrowed)
        self.assertIn("m3, L, gal, imp gal, ft3", narrowed)

    def test_an_unknown_word(self):
        process = self.ask("keys", "volum3", status=2)
        self.assertEqual(process.stdout, "")
        self.assertEqual(process.stderr, "towerloop: no key has 'volum3' in it (did you mean 'volume'?); "
                                         "towerloop keys lists them all\n")
        process = self.ask("keys", "tank", "qqqq", "zzzz", status=2)
        self.assertEqual(process.stderr.count("\n"), 2, process.stderr)
        for nonsense in ("", "\u00fcber", "a" * 5000):
            self.assertIn("no key has", self.ask("keys", nonsense, status=2).stderr)

    def test_units(self):
        self.assertIn("0.2642 to 264200000 gal", self.ask("keys", "tank", "--units", "us").stdout)
        self.assertIn("32 to 104 degF", self.ask("keys", "temperature", "--units", "us").stdout)

    def test_schema_stands_alone(self):
        self.assertEqual(self.ask("keys", "--schema", "tank", status=2).stdout, "")
        self.assertEqual(self.ask("keys", "--schema", "--json", status=2).stdout, "")


# --- schema --------------------------------------------------------------------------------------

# A file with a fault of these kinds must not pass the schema: they are about one place in the file.
STRUCTURAL = re.compile(
    r"unknown key|: missing; |this is (not )?a (list|mapping)|nothing stands|no value;|has no unit"
    r"|has an unknown unit|does not say as what| is an? [a-z ]+, not an? |is not a number"
    r"|is not a whole number|is not known here|is neither yes nor no|is no known format"
    r"|cannot be cleaned|is not a time of the run|is not a clock time|an event without an action"
    r"|nothing to put back")
# Structural as they sound, these depend on several keys, or are seen before there is any structure.
EXCEPTIONS = {
    "temperature_without_day": "a warmest day is needed only with a seasonal swing",
    "temperature_without_mean": "the mean is needed only where there is no file",
    "water_change": "every and amount go together",
    "no_meals": "meals are needed only with a ration",
    "no_meals_event": "meals are needed only with a ration",
    "weather_twice": "a latitude is needed only where the file has no sun",
    "weather_gaps": "a latitude is needed where the file has gaps in the sun or ends early",
    "sun_empty": "hours are needed only without weather",
    "set_unknown": "the fault is in --set, not in the file",
}
# Spellings of the same kind of quantity; whatever the reader takes, the schema takes.
SPELLINGS = {
    "tank.volume": ["12 m3", "12m3", "12 m^3", "12 m\u00b3", "3000 US gal", "3000 gallons", "3e3 GAL",
                    "2600 imperial gallons", "12000 litres", "400 cubic feet", " 12  m3 ", ".5e2 m3"],
    "pump.flow": ["1200 gal/h", "1200 gallons per hour", "1200 US gallons/hr", "4.5 m\u00b3 / h",
                  "20 gpm", "75 l/min", "4500 L per hour", "4.5\u00a0m3/h"],
    "temperature": ["20 degC", "20 \u00b0C", "20\u00b0C", "68 degrees Fahrenheit", "20 C", "68F",
                    "293.15 K", "20 deg C"],
    "starting water.nitrate": ["5 mg/L as N", "22 mg/l as NO3", "5 ppm as n", "5000 \u00b5g/L as N",
                               "5 mgN/L", "5 mg N/L"],
    "starting water.alkalinity": ["5 dH", "5 dKH", "5 \u00b0dH", "100 ppm CaCO3", "100 mg/L as caco3"],
    "water change.trickle": ["10 %/d", "10 percent per day", "10% / day", "0.1 1/d", "0.1/d", "1 %/h"],
    "length": ["60 d", "60 days", "8 weeks", "1440 hours", "60d"],
    "parameters.k_slough_tray": ["0.03 1/d per m/h"],
    "source water.pH": ["7.8", "8", "+7.8"],
    "tower.trays": ["16", "16.0"],
    "start": ["2027-05-01", "2027-05-01 06:00", "2027-05-01 6:00:30", "2027-05-01T06:00"],
}
REFUSED = {
    "tank.volume": ["12", "12 m2", "12 m", "12 m3 m3", "12,5 m3", "m3", "twelve m3", "12 cubic"],
    "pump.flow": ["1200 gal", "1200 gal//h", "1200 per hour"],
    "temperature": ["20", "20 deg", "20 degX"],
    "starting water.nitrate": ["5 mg/L", "5 ppm", "5 mg/L as"],
    "water change.trickle": ["10 %", "10"],
    "tower.trays": ["16.5", "sixteen", "16 trays"],
    "start": ["2027-13-01", "2027-05-32", "01.05.2027", "2027-05-01 24:00"],
}


class Schema(Told):
    def setUp(self):
        super().setUp()
        import jsonschema
        self.schema = json.loads(self.ask("keys", "--schema").stdout)
        jsonschema.Draft202012Validator.check_schema(self.schema)
        self.validator = jsonschema.Draft202012Validator(self.schema)

    def load(self, text):
        """YAML with numbers as numbers and all else as text: what loaders agree on. The program makes
        no more of a scalar than this."""
        import yaml

        class Loader(yaml.BaseLoader):
            yaml_implicit_resolvers = {}

        number = re.compile(r"^[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$")
        Loader.add_implicit_resolver("tag:yaml.org,2002:float", number, list("-+.0123456789"))
        Loader.add_constructor("tag:yaml.org,2002:float", lambda loader, node: float(node.value))
        return yaml.load(text, Loader)

    def faults(self, text):
        return [f"{fault.json_path}: {fault.message}"
                for fault in self.validator.iter_errors(self.load(text))]

    def read(self, text):
        """Whether the program takes it."""
        process = towerloop("check", self.write(text), "--quiet")
        self.assertIn(process.returncode, (0, 2))
        return process.returncode == 0

    def test_good_scenarios_pass(self):
        for path in GOOD:
            with self.subTest(path.name):
                self.assertEqual(self.faults(path.read_text(encoding="utf-8")), [])

    def test_bad_scenarios_do_not_pass(self):
        import yaml
        seen, excepted = 0, set()
        for expected in sorted(BAD.glob("*.expect")):
            said = expected.read_text(encoding="utf-8")
            if not STRUCTURAL.search(said):
                continue
            with self.subTest(expected.stem):
                try:
                    faults = self.faults(expected.with_suffix(".yaml").read_text(encoding="utf-8"))
                except (yaml.YAMLError, UnicodeDecodeError):
                    continue  # no loader reads it
                if expected.stem in EXCEPTIONS:
                    self.assertEqual(faults, [], "no exception is needed any more")
                    excepted.add(expected.stem)
                else:
                    self.assertNotEqual(faults, [], said)
                    seen += 1
        self.assertGreater(seen, 25)
        self.assertEqual(excepted, set(EXCEPTIONS))

    def test_it_knows_the_same_keys(self):
        """Every key of the list stands in the schema at its place, with its meaning."""
        for key in self.ask_json("keys")["keys"]:
            if key["section"] == "ration[]":
                continue  # looked at below
            at = self.schema
            for part in key["path"].split("."):
                name = part.removesuffix("[]")
                at = next(form["properties"][name] for form in [at, *at.get("anyOf", [])]
                          if name in form.get("properties", {}))
                if part.endswith("[]"):
                    at = at["items"]
            self.assertIn(key["meaning"], at["description"], key["path"])
            self.assertEqual(at.get("default"), key["default"], key["path"])

    def with_value(self, path, value):
        text = SMALL
        section, _, name = path.rpartition(".")
        if not section:
            text = re.sub(rf"(?m)^{re.escape(name)}:.*\n", "", text)
            return text + f"{name}: {value}\n"
        found = re.search(rf"(?m)^{re.escape(section)}: \{{(.*)\}}$", text)
        if not found:
            return text + f"{section}: {{{name}: {value}}}\n"
        kept = [part for part in re.split(r", (?=[a-z][a-zA-Z ]*: )", found[1])
                if not part.startswith(f"{name}:")]
        line = f"{section}: {{{', '.join([*kept, f'{name}: {value}'])}}}"
        return text[:found.start()] + line + text[found.end():]

    def test_every_spelling_the_reader_takes_passes(self):
        for path, values in SPELLINGS.items():
            for value in values:
                for written in (value, f'"{value}"'):
                    with self.subTest(path=path, value=written):
                        text = self.with_value(path, written)
                        self.assertTrue(self.read(text), text)
                        self.assertEqual(self.faults(text), [])

    def test_what_the_reader_refuses_does_not_pass(self):
        for path, values in REFUSED.items():
            for value in values:
                with self.subTest(path=path, value=value):
                    text = self.with_value(path, f'"{value}"')
                    self.assertFalse(self.read(text), text)
                    if path != "tower.trays" or value != "16.5":  # a pattern counts no decimals
                        self.assertNotEqual(self.faults(text), [])

    def test_forms(self):
        feeding = 'feeding: {protein: 38 %, meals: ["08:00"], ration: %s}\n'
        fed = re.sub(r"(?m)^feeding:.*\n", "", SMALL)
        for tail, good in [
            ("temperature: {mean: 20 degC, daily swing: 1 degC}", True),
            ("temperature: {mean: 20 degC, daily: 1 degC}", False),
            ("temperature: [20 degC]", False),
            ("events: [{at: day 1, pump: off}]", True),
            ("events: [{at: day 1, pump: off, for: 6 h}]", True),
            ("events: [{at: day 1, pump: {flow: 3 m3/h, to tower: 50 %}, for: 6 h}]", True),
            ("events: [{at: day 1, aerator: on, to tower: 40 %}]", True),
            ("events: [{at: day 1}]", False),
            ("events: [{at: day 1, for: 6 h}]", False),
            ("events: [{at: day 1, change water: 10 %, for: 6 h}]", False),
            ("events: [{at: day 1, pump: {}}]", False),
            ("events: [{at: day 1, pump: slow}]", False),
            ("events: [{pump: off}]", False),
            ("events: [{at: day 1, clean: tray 3}]", True),
            ("events: [{at: day 1, clean: tray}]", False),
            ("events: [{at: day 1, add fish: {name: a, count: 3}}]", False),
            ("events: [{at: day 1, dose: {salt: 1 kg, baking soda: 100 g}}]", True),
            ("events: [{at: day 1, dose: {}}]", False),
            ("limits: {nitrate: {caution: none}}", True),
            ("limits: {total ammonia: {caution: none}}", False),
        ]:
            with self.subTest(tail):
                text = re.sub(r"(?m)^temperature:.*\n", "", SMALL) + tail + "\n"
                self.assertEqual(self.read(text), good, text)
                self.assertEqual(self.faults(text) == [], good)
        for ration, good in [
            ("1 %/d", True), ("200 g/d", True), ("1 %", False), ("[]", False), ("{}", False),
            ("[{at: 10 degC, ration: 0.5 %/d}, {at: 20 degC, ration: 1 %/d}]", True),
            ("[{at: 10 degC}]", False), ("[{at: 10 degC, ration: 200 g/d}]", False),
            ("{10 degC: 0.5 %/d, 68 degF: 1 %/d}", True), ("{warm: 0.5 %/d}", False),
            ("{10 degC: 2 g/d}", False),
        ]:
            with self.subTest(ration):
                text = fed + feeding.replace("%s", ration)
                self.assertEqual(self.read(text), good, text)
                self.assertEqual(self.faults(text) == [], good)


# --- check ---------------------------------------------------------------------------------------

class Check(Told):
    def said(self, *args, text=SMALL):
        process = self.ask("check", self.write(text), *args)
        self.check_lines(process.stdout)
        return process.stdout

    def block(self, text, label):
        """The text behind a label, its lines joined."""
        found = re.search(rf"(?m)^{re.escape(label)} *(.*(?:\n .*)*)$", text)
        self.assertTrue(found, f"{label} in\n{text}")
        return " ".join(found[1].split())

    def test_every_scenario(self):
        for path in GOOD:
            for units in ("metric", "us"):
                with self.subTest(path.name, units=units):
                    process = self.ask("check", path, "--units", units)
                    self.check_lines(process.stdout)
                    self.assertRegex(process.stderr, WARNED.get(path.name, r"\A\Z"))
                    title = re.search(r"(?m)^title: (.*)$", path.read_text(encoding="utf-8"))[1]
                    self.assertEqual(self.block(process.stdout, "Title"), title)

    def test_a_wide_pipe_takes_nothing(self):
        text = SMALL.replace("{flow: 800 gal/h, to tower: 100 %}",
                             "{curve: [{head: 0 m, flow: 9 m3/h}, {head: 6 m, flow: 0 m3/h}], "
                             "pipe: {length: 1 m, inner diameter: 1 m}}")
        self.assertIn("and next to nothing lost in the pipe,", self.block(self.said(text=text), "Pump"))

    def test_a_log_of_meals_knows_no_cold(self):
        self.write("time_d,feed_g\n0.5,40\n1.5,40\n", "meals.csv")
        cold = SMALL.replace("feeding: {", "feeding: {none below: 8 degC, ")
        self.assertIn("none below 8 degC", self.block(self.said(text=cold), "Feeding"))
        logged = re.sub(r"ration: 0.8.*meals: \[.*\]", "log: {file: meals.csv}", cold)
        self.assertNotIn("none below", self.block(self.said(text=logged), "Feeding"))

    def test_a_pump_that_fouls(self):
        """Without a pipe, by hand: 3 m3/h clean, 60 % of it before it is cleaned on day 2, 80 % on day 3."""
        text = SMALL.replace("{flow: 800 gal/h, to tower: 100 %}", "{curve: [{head: 0 m, flow: 9 m3/h}, {head: 6 m, flow: 0 m3/h}], "
                             "head: 4 m, fouling: 20 %/d}")
        text = text + "events: [{at: day 2, clean: pump}]\n"
        said = self.said(text=text)
        pump = self.block(said, "Pump")
        self.assertIn("a lift of 4 m", pump)
        self.assertIn("the pump lifts 4 m,", self.block(said, "Build sheet"))
        self.assertIn("600 % of its clean flow a month at any one head", pump)
        self.assertRegex(pump, r"1\.8\d* m3/h at the least, 2\.4\d* m3/h at the end of the run")

    def test_much_water_in_plain_numbers(self):
        """800 m3/h over 0.2 m2 are 4000 m/h; media of 1000 m2/m3 are well wetted from 80 m/h on
        (0.08 m2/h times the surface), far above what fills half of their voids."""
        text = self.said("--set", "pump.flow=800 m3/h", "--set", "tower.specific surface=1000 m2/m3", "--units", "us")
        self.assertNotRegex(text, r"\de\+\d")
        tower = self.block(text, "Tower")
        self.assertIn("hydraulic load 13100 ft/h", tower) # 4000 m/h over 0.3048 m are 13123
        self.assertIn("well wetted from 262 ft/h on", tower)
        self.assertIn("these media cannot be well wetted and still let air through, coarser ones can", tower)
        self.assertNotIn("cannot be well wetted", self.said())

    def test_what_a_keeper_checks(self):
        """The figures by hand: 6 m3; 800 US gal/h = 3.0283 m3/h; 8 trays of 0.0762 m on 0.2 m2 are
        0.12192 m3 of media with 200 m2/m3; 12 fish of 500 g; 0.8 % of 6 kg are 48 g."""
        text = self.said()
        self.assertIn("2027-06-01 to 2027-06-04, 3 d", self.block(text, "Time"))
        self.assertIn("20 degC all the time", self.block(text, "Temperature"))
        self.assertIn("6 m3, water surface 6 m2", self.block(text, "Tank"))
        self.assertIn("500 L", self.block(text, "Chamber"))
        self.assertIn("3.028 m3/h, the tank's water 0.505 times an hour", self.block(text, "Pump"))
        tower = self.block(text, "Tower")
        for part in ("8 trays with 76.2 mm of lava rock", "121.9 L of media with a surface of 24.38 m2",
                     "hydraulic load 15.1 m/h", "biofilm: mature"):
            self.assertIn(part, tower)
        self.assertIn("alkalinity 120 mg/L as CaCO3, pH 7.6", self.block(text, "Source water"))
        self.assertIn("10 % of the tank a day (600 L) trickles in", self.block(text, "Water change"))
        self.assertIn("12 koi of 500 g: 6 kg together 12 fish, 6 kg, 1 kg in each m3",
                      self.block(text, "Fish"))
        self.assertIn("0.8 % of their mass a day, at the start 48 g of feed a day; 2 meals a day, at "
                      "08:00, 17:00", self.block(text, "Feeding"))
        for label in ("Limits", "Parameters"):
            self.assertEqual(self.block(text, label), "all at their defaults")
        self.assertEqual(self.block(text, "Events"), "none")
        self.assertIn("stays moist 12 h, sooner in sun or dry wind", self.block(text, "Not in the file"))

    def test_us_units(self):
        text = self.said("--units", "us")
        self.assertIn("1585 gal", self.block(text, "Tank"))
        self.assertIn("800 gal/h", self.block(text, "Pump"))
        self.assertIn("8 trays with 3 in of lava rock", self.block(text, "Tower"))
        self.assertIn("68 degF", self.block(text, "Temperature"))
        self.assertIn("0.835 lb in each 100 gal", self.block(text, "Fish"))  # 1 kg/m3

    def test_what_differs_and_what_happens(self):
        text = self.said("--set", "limits.nitrate.caution=none", "--set", "parameters.mu_aob=0.5 1/d",
                         "--set", "limits.oxygen.caution=6 mg/L", text=SMALL + """\
events:
  - {at: day 2, clean: tray 3}
  - {at: day 1 14:00, pump: off, for: 6 h}
  - {at: day 1 14:00, ration: 2 %/d}
""")
        self.assertEqual(self.block(text, "Limits"), "nitrate.caution: none instead of 40 mg/L as N")
        self.assertEqual(self.block(text, "Parameters"), "mu_aob: 0.5 1/d instead of 0.78 1/d")
        self.assertEqual(self.block(text, "Events"),
                         "2027-06-02 14:00 (day 1): pump off, for 6 h "
                         "2027-06-02 14:00 (day 1): ration 2 %/d "
                         "2027-06-03 (day 2): tray 3 rinsed")

    def test_set(self):
        self.assertIn("12 trays", self.block(self.said("--set", "tower.trays=12"), "Tower"))
        process = self.ask("check", self.write(SMALL), "--set", "tower.trays=many", status=2)
        self.assertIn("--set: tower.trays: ", process.stderr)
        # an event that is on no line goes by its number
        process = self.ask(
            "check", self.write(SMALL), "--set",
            "events=[{at: day 1, clean tray: 2}, {at: day 1 02:00, pump: off, for: 6 h}, {at: day 1 04:00, pump: off}]", status=2)
        self.assertIn("--set: events[0].clean tray: unknown key", process.stderr)
        self.assertIn("--set: events[2]: the pump is changed within the `for:` of events[1]; expected one change of it "
                      "at a time\n", process.stderr)
        # one fault, one message
        process = self.ask("check", self.write(SMALL), "--set", 'length="3\\a d"', status=2)
        self.assertEqual(process.stderr, "--set: the text holds a line break or a control character; "
                                         "expected text on one line\n")

    def test_readings(self):
        (self.folder / "water.csv").write_text("time_d,temperature_degC\n0,18\n3,21.5\n", encoding="utf-8")
        text = self.said(text=SMALL.replace("temperature: 20 degC", "temperature: {file: water.csv}"))
        self.assertEqual(self.block(text, "Temperature"), "2 readings from water.csv, 18 degC to 21.5 degC")

    def test_mistakes_are_told_as_run_tells_them(self):
        for path in sorted(BAD.glob("*.yaml")):
            if path.stem == "set_unknown":
                continue  # sound without its --set
            with self.subTest(path.name):
                process = towerloop("check", path)
                if process.returncode == 0:  # a warning is no mistake
                    self.assertIn("warning", path.with_suffix(".expect").read_text(encoding="utf-8"))
                    continue
                self.assertEqual((process.returncode, process.stdout), (2, ""))
                self.assertEqual(process.stderr, towerloop("run", path, cwd=self.folder).stderr)
                answer = self.ask_json("check", path, status=2)
                self.assertEqual(set(answer), CHECK_MEMBERS)
                self.assertEqual((answer["sound"], answer["scenario"]), (False, None))
                self.assertEqual([m["text"] for m in answer["messages"]], process.stderr.splitlines())

    def test_quiet_and_warnings(self):
        scenario = self.write(SMALL)
        slow = ("--set", "tower.plan area=5 m2")
        process = self.ask("check", scenario, *slow)
        self.assertIn("warning: tower.plan area", process.stderr)
        process = self.ask("check", scenario, *slow, "--quiet")
        self.assertEqual((process.stdout, process.stderr), ("", ""))
        process = self.ask("check", scenario, "--quiet", "--set", "tower.trays=0", status=2)
        self.assertEqual(process.stdout, "")
        self.assertIn("tower.trays", process.stderr)
        self.assertEqual(self.ask_json("check", scenario, *slow)["messages"][0]["level"], "warning")

    def test_nothing_to_check(self):
        self.assertIn("No such file", self.ask("check", self.folder / "none.yaml", status=2).stderr)
        self.ask("check", status=2)
        self.ask("check", self.write(SMALL), "second.yaml", status=2)

    def as_scenario(self, value):
        """The JSON of a scenario as a scenario: {value, unit} becomes text again."""
        if isinstance(value, dict):
            if set(value) == {"value", "unit"}:
                return f"{value['value']!r} {value['unit']}"
            return {key: self.as_scenario(below) for key, below in value.items()}
        return [self.as_scenario(item) for item in value] if isinstance(value, list) else value

    def test_the_json_is_the_scenario(self):
        """Read as a scenario (JSON is YAML), what is said back says the same again, bit for bit."""
        rich = SMALL.replace("temperature: 20 degC", "temperature: {mean: 19 degC, daily swing: 1 degC}")
        rich = re.sub(r"(?m)^feeding:.*\n", 'feeding: {ration: {8 degC: 0.1 %/d, 20 degC: 1 %/d}, '
                      'protein: 38 %, feed conversion: 1.7, meals: ["8:00"]}\n', rich)
        rich = rich.replace("biofilm: mature", "biofilm: seeded 33 %, submerged: yes") + """\
limits: {total ammonia: {danger: 3 mg/L as NH3}, nitrate: {caution: none}}
events:
  - {at: day 1, add fish: {name: "new: \\"koi\\"", count: 3, mean mass: 1 lb}}
  - {at: day 1.3, pump: {flow: 600 gal/h, to tower: 50 %}, for: 100 min}
  - {at: day 2, dose: {salt: 3 lb}, clean: all trays}
  - {at: day 2 12:00, ration: [{at: 10 degC, ration: 1 %/d}]}
"""
        for path in [*GOOD, self.write(rich, "rich.yaml")]:
            with self.subTest(path.name):
                first = self.ask_json("check", path)
                self.assertEqual((set(first), first["format"], first["sound"]), (CHECK_MEMBERS, 1, True))
                again = self.write(json.dumps(self.as_scenario(first["scenario"])), "again.yaml")
                (self.folder / "inputs").mkdir(exist_ok=True)  # where it says that its files are
                for log in path.parent.glob("*.csv"):
                    shutil.copy(log, self.folder / "inputs")
                second = self.ask_json("check", again)
                self.assertEqual(second["scenario"], first["scenario"])
                self.assertEqual(second["derived"], first["derived"])
                said = "\n".join(message["text"] for message in second["messages"])
                self.assertRegex(said, WARNED.get(path.name, r"\A\Z"))

    def test_what_was_left_to_the_program(self):
        """Each key said to be left out is not named in the file; naming it with its default takes it
        off the list and changes nothing else."""
        scenario = self.write(SMALL)
        before = self.ask_json("check", scenario)
        defaults = {key["path"]: key["default"] for key in self.ask_json("keys")["keys"]}
        self.assertIn("tower.stays moist", before["defaulted"])
        self.assertNotIn("tower.trays", before["defaulted"])
        for path in before["defaulted"]:
            if defaults[path] is None:
                continue
            with self.subTest(path):
                after = self.ask_json("check", scenario, "--set", f"{path}={defaults[path]}")
                self.assertEqual(after["scenario"], before["scenario"])
                self.assertNotIn(path, after["defaulted"])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
