"""End-to-end tests of `water`: one sample, what it means, and the plan out of bad water.

usage: water_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...

Python's standard library only.
"""

import json
import math
import re
import sys
import unittest

sys.dont_write_bytecode = True
from run_e2e import EndToEnd, towerloop  # noqa: E402

BAD = ["temperature=75 degF", "pH=8.4", "ammonia=2 mg/L as N", "nitrite=1 mg/L as N",
       "alkalinity=120 mg/L as CaCO3"]
CLEAN = ["source pH=8.3", "source alkalinity=120 mg/L as CaCO3", "source temperature=22 degC",
         "source chlorine=0 mg/L", "source ammonia=0 mg/L as N", "source nitrite=0 mg/L as N"]
GOOD = ["temperature=20 degC", "pH=7.5", "ammonia=0.1 mg/L as N", "nitrite=0.05 mg/L as N",
        "nitrate=10 mg/L as N", "alkalinity=150 mg/L as CaCO3", "chloride=30 mg/L",
        "oxygen=8.5 mg/L", "elevation=0 m", "salinity=0 g/kg"]
FIGURES = ["temperature", "nh3_share", "nh3", "tan_chronic", "tan_acute", "nitrite", "chloride_to_nitrite", "hno2",
           "nitrate", "chloride", "oxygen", "oxygen_saturation", "oxygen_share", "ph", "alkalinity", "co2", "tic"]
FIGURE_MEMBERS = {"key", "name", "value", "unit", "source", "caution", "danger", "limits_source", "grade",
                  "outside", "missing", "least", "most"}
STEP_MEMBERS = {"kind", "amount", "unit", "wait_h", "harsh", "because", "before", "mixed", "settled"}
ROWS = re.compile(r"^(?P<name>.{18}) +(?P<value>\S+) +(?P<caution>\S+) +(?P<danger>\S+) +\*?(?P<grade>"
                  r"within limits|caution|danger|-) +(?P<source>\S.*)$")


class Asked(EndToEnd):
    """Helpers."""

    def ask(self, *args, status=0):
        process = towerloop("water", *args)
        self.expect(process, status)
        for line in process.stdout.splitlines():
            self.assertLessEqual(len(line), 80, line)
            self.assertEqual(line, line.rstrip())
        self.assertNotIn("\x1b", process.stdout + process.stderr)
        return process

    def ask_json(self, *args, status=0):
        answer = json.loads(self.ask(*args, "--json", status=status).stdout,
                            parse_constant=lambda word: self.fail(f"{word} in the answer"))
        return answer, {figure["key"]: figure for figure in answer["figures"]}

    def faults(self, *args):
        process = self.ask(*args, status=2)
        self.assertEqual(process.stdout, "")
        return process.stderr.splitlines()


class Sample(Asked):
    def test_what_bad_water_means(self):
        text = self.ask(*BAD).stdout
        self.assertTrue(text.startswith("Verdict: danger, as far as measured. Beyond danger: "))
        for word in ("Emerson et al. 1975", "US EPA 2013 acute", "US EPA 2013 chronic", "Anthonisen et al. 1976",
                     "Benson & Krause 1984", "Plummer & Busenberg 1982", "without salmonids",
                     "elevation 0 m, salinity 0 g/kg", "Not measured: nitrate, chloride and oxygen."):
            self.assertIn(word, " ".join(text.split()))
        rows = {m["name"].strip(): m for m in map(ROWS.match, text.splitlines()) if m}
        # US EPA 2013, acute, salmonids absent, pH 8.4: 1.3 mg/L at 24 degC (two figures)
        self.assertAlmostEqual(float(rows["ammonia (1 hour)"]["danger"]), 1.3, delta=0.05)
        # Emerson et al. 1975 at 23.9 degC, pH 8.4: 11.6 %
        self.assertAlmostEqual(float(rows["un-ionised ammonia"]["value"]), 2 * 0.116, delta=0.002)
        self.assertEqual(rows["nitrite"]["grade"], "danger")
        self.assertEqual(rows["pH"]["grade"], "within limits")

    def test_good_water(self):
        text = self.ask(*GOOD).stdout
        self.assertTrue(text.startswith("Verdict: within limits.\n"), text)
        self.assertNotIn("Assumed", text)
        self.assertNotIn("Not measured", text)
        self.assertIn("Nothing needs fixing", self.ask("--fix", *GOOD).stdout)

    def test_water_too_warm_or_too_cold_for_fish(self):
        for degC, grade in ((36, "danger"), (31, "caution"), (2, "caution"), (1, "danger")):
            water = [f"temperature={degC} degC", *GOOD[1:]]
            answer, figures = self.ask_json("--fix", *water)
            self.assertEqual(figures["temperature"]["grade"], grade)
            self.assertEqual(answer["verdict"], grade)
            kinds = [step["kind"] for step in answer["plan"]["steps"]]
            self.assertIn("stop_feeding", kinds)
            self.assertIn("cool" if degC > 20 else "warm", kinds)
            if degC > 20:
                self.assertTrue("more_air" in kinds or answer["plan"]["held"]["more_air"])
            self.assertNotIn("Nothing needs fixing", self.ask("--fix", *water).stdout)
        text = " ".join(self.ask("--fix", "--units", "us", "temperature=97 degF", *GOOD[1:]).stdout.split())
        self.assertIn("It is 97 degF: caution above 86 degF, danger above 95 degF.", text)
        self.assertRegex(text, "temperature 97 86 95 danger judgement")
        self.assertIn("by no more than 3.6 degF a day", text)

    def test_no_verdict_where_nothing_can_be_judged(self):
        self.assertTrue(self.ask("elevation=80 m").stdout.startswith("Verdict: none."))
        answer, _ = self.ask_json("elevation=80 m")
        self.assertIsNone(answer["verdict"])
        self.assertIsNone(answer["may_be"])

    def test_ammonia_that_cannot_be_told(self):
        """Its limits hang on pH and temperature: the mildest case is told, the worst one counts."""
        self.assertTrue(self.ask("ammonia=8 mg/L as N", "--fail-on", "danger", status=3).stdout.startswith(
            "Verdict: cannot be told: ammonia, without temperature and pH. It counts as"))
        answer, figures = self.ask_json("ammonia=8 mg/L as N")
        self.assertEqual((answer["verdict"], answer["may_be"]), ("cannot be told", "danger"))
        self.assertIn("nh3", answer["cannot_be_told"])
        self.assertIsNone(figures["nh3"]["grade"])
        self.assertGreater(figures["nh3"]["most"], figures["nh3"]["least"])
        for water in (["ammonia=1000 mg/L as N", "pH=7.5"], ["ammonia=20 mg/L as N", "pH=8.2"]):
            answer, figures = self.ask_json(*water, "--fail-on", "danger", status=3)
            self.assertEqual((answer["verdict"], figures["nh3"]["grade"]), ("danger", "danger"))
        text = " ".join(self.ask("ammonia=0.3 mg/L as N", "pH=7.9", "--fix").stdout.split())
        self.assertIn("Between 0 degC and 40 degC un-ionised ammonia may be", text)
        self.assertNotIn("needs fixing", text)

    def test_water_that_kills_is_never_within_limits(self):
        """One reading at either end of what it may be, alone and in good water."""
        ends = {"temperature": ("0 degC", "40 degC"), "pH": ("4", "11"), "ammonia": (None, "1000 mg/L as N"),
                "nitrite": (None, "1000 mg/L as N"), "nitrate": (None, "10000 mg/L as N"),
                "alkalinity": ("0 mg/L as CaCO3", None), "chloride": (None, "20000 mg/L"),
                "oxygen": ("0 mg/L", "40 mg/L"), "salinity": (None, "50 g/kg")}
        for key, values in ends.items():
            for value in filter(None, values):
                rest = [word for word in GOOD if not word.startswith(key)]
                for water in ([f"{key}={value}"], [f"{key}={value}", *rest]):
                    with self.subTest(water):
                        text = self.ask(*water, "--fix", "--fail-on", "danger", status=3).stdout
                        self.assertFalse(text.startswith("Verdict: within limits"), text)
                        self.assertNotIn("eeds fixing", text)

    def test_salt_poisoning(self):
        text = " ".join(self.ask("salinity=36 g/kg", "pH=7.5", "--fix").stdout.split())
        self.assertIn("Chloride as the salinity says", text)
        self.assertIn("Salt leaves only with the water: change up to 25 %", text)
        text = " ".join(self.ask("chloride=8000 mg/L", *(word for word in GOOD[:6]), "--fix", *CLEAN[:4]).stdout.split())
        self.assertIn("chloride: 8000 -> 6000 mg/L. Slowly", text)

    def test_more_oxygen_than_can_be(self):
        text = " ".join(self.ask("oxygen=39 mg/L", "temperature=30 degC", "--fix").stdout.split())
        self.assertIn("Oxygen at 516 % of full cannot be in a tank under air", text)
        self.assertIn("Open air drives out what is too much", text)
        text = " ".join(self.ask("oxygen=11 mg/L", "temperature=20 degC").stdout.split())
        self.assertIn("US EPA 1986", text)
        self.assertTrue(text.startswith("Verdict: caution"))

    def test_small_figures_keep_to_the_columns(self):
        text = self.ask("pH=6.62", "temperature=26.6 degC", "alkalinity=0 mg/L as CaCO3", "salinity=2.3 g/kg").stdout
        self.assertRegex(text, r"\ncarbon dioxide     0\.00\d\d  ")
        self.assertLessEqual(max(map(len, text.splitlines())), 80)

    def test_json(self):
        answer, figures = self.ask_json(*BAD)
        self.assertEqual(list(figures), FIGURES)
        for figure in figures.values():
            self.assertEqual(set(figure), FIGURE_MEMBERS)
            self.assertEqual(figure["value"] is None, figure["missing"] != [], figure["key"])
        self.assertEqual(answer["format"], 1)
        self.assertEqual(answer["verdict"], "danger")
        self.assertNotIn("plan", answer)
        self.assertAlmostEqual(answer["readings"]["temperature_degC"], 23.889, places=3)
        self.assertAlmostEqual(answer["readings"]["alkalinity_mgCaCO3_L"], 120, places=6)
        self.assertEqual(figures["oxygen"]["missing"], ["oxygen"])
        self.assertEqual(figures["nh3"]["grade"], "danger")
        self.assertIsNone(figures["nh3_share"]["grade"])
        self.assertEqual(figures["nh3"]["source"], "Emerson et al. 1975")
        self.assertEqual([row["reading"] for row in answer["assumed"]],
                         ["elevation", "salinity", "chloride"])
        again, _ = self.ask_json(*BAD, "--units", "us")
        self.assertEqual(again, answer)

    def test_units_mean_the_same(self):
        as_ammonium = [word if not word.startswith("ammonia") else "ammonia=2.576 mg/L as NH4" for word in BAD]
        as_hardness = [word if not word.startswith("alkalinity") else "alkalinity=6.728 dH" for word in BAD]
        _, figures = self.ask_json(*BAD)
        for changed in (as_ammonium, as_hardness):
            _, same = self.ask_json(*changed)
            for key in ("nh3", "co2"):
                self.assertAlmostEqual(same[key]["value"] / figures[key]["value"], 1, delta=1e-3)
        self.assertIn("temperature 75 degF", self.ask(*BAD, "--units", "us").stdout)

    def test_outside_published_range(self):
        text = self.ask("temperature=32 degC", "pH=7", "ammonia=0.1 mg/L as N").stdout
        self.assertIn("caution: outside published range",
                      self.ask("temperature=12 degC", "pH=7", "ammonia=0.1 mg/L as N").stdout)
        self.assertIn("* outside published range: temperature 32 degC; US EPA 2013, ammonia criteria: 0 to 30 degC.",
                      " ".join(text.split()))
        answer, figures = self.ask_json("temperature=32 degC", "pH=7", "ammonia=0.1 mg/L as N")
        self.assertTrue(figures["tan_acute"]["outside"])
        self.assertFalse(figures["nh3"]["outside"])
        self.assertEqual([row["source"] for row in answer["ranges"]],
                         ["US EPA 2013", "Yamanaka et al. 2013"])

    def test_missing_readings_are_not_guessed(self):
        text = " ".join(self.ask("ammonia=2 mg/L as N").stdout.split())
        self.assertIn("Cannot be told without temperature and pH: un-ionised share, un-ionised ammonia", text)
        self.assertNotIn("within limits", text)
        contradiction = self.ask("temperature=20 degC", "pH=10.5", "alkalinity=5 mg/L as CaCO3").stdout
        self.assertIn("Alkalinity and pH do not go together", contradiction)

    def test_exit_status(self):
        self.ask(*BAD, "--fail-on", "danger", status=3)
        self.ask(*GOOD, "--fail-on", "caution")
        self.ask("temperature=32 degC", "pH=7", "ammonia=0.1 mg/L as N", "--fail-on", "caution", status=3)
        self.assertEqual(self.ask(*BAD, "--quiet").stdout, "")


class Faults(Asked):
    def test_all_at_once(self):
        self.assertEqual(
            self.faults("temprature=20", "pH", "=5", "", "ammonia=2 mg/L", "pH=7", "pH=8", "salinity=3",
                        "oxygen=99 mg/L", "source chlorine form=some", "alkalinity=", "--fix"),
            ['argument 1: temprature: unknown key (did you mean "temperature"?)',
             'argument 2: pH: no value; expected KEY=VALUE, as "ammonia=2 mg/L as N"',
             'argument 3: no key before the =; expected KEY=VALUE, as "ammonia=2 mg/L as N"',
             'argument 4: the argument is empty; expected KEY=VALUE, as "ammonia=2 mg/L as N"',
             'argument 5: ammonia: "2 mg/L" does not say as what; expected a concentration of nitrogen in '
             'mg/L as N, mg/L as NO3, mg/L as NO2, mg/L as NH3, mg/L as NH4',
             'argument 7: pH: this key stands here a second time (the first is argument 6)',
             'argument 8: salinity: "3" has no unit; expected a salinity in g/kg',
             'argument 9: oxygen: "99 mg/L" is outside the range; expected 0 to 40 mg/L',
             'argument 10: source chlorine form: "some" is none; expected chlorine, chloramine or unknown',
             'argument 11: alkalinity: no value; expected KEY=VALUE, as "ammonia=2 mg/L as N"'])

    def test_odd_text(self):
        for word in ("caf\u00e9=1", "pH=\u0667", "pH=1e999", "pH=nan", "pH=0x7", "pH=7,5", "pH=-1", "p\x1b[31mH=7",
                     "x" * 5000 + "=1", "nitrite=" + "9" * 5000 + " mg/L as N", "pH==7", " pH=7"):
            with self.subTest(word[:20]):
                lines = self.faults(word)
                self.assertEqual(len(lines), 1)
                self.assertTrue(lines[0].startswith("argument 1: "))
                self.assertLess(len(lines[0]), 600)
        self.assertTrue(self.faults()[0].startswith("towerloop: water takes KEY=VALUE..."))

    def test_no_reading_at_all(self):
        text = " ".join(self.ask("--fix", "volume=1 m3").stdout.split())
        self.assertIn("Sample: no reading of the pond was given.", text)
        self.assertIn("Nothing was measured that could be judged: no plan yet.", text)
        self.assertNotIn("needs fixing", text)

    def test_what_only_the_plan_uses(self):
        process = self.ask("pH=7", "volume=3 m3")
        self.assertEqual(process.stderr, "argument 2: warning: volume: only --fix uses it\n")
        self.assertEqual(self.ask("pH=7", "volume=3 m3", "--quiet").stderr, "")


class Plan(Asked):
    def plan(self, *args):
        return self.ask_json("--fix", *args)[0]["plan"]

    def kinds(self, plan):
        return [step["kind"] for step in plan["steps"]]

    def test_steps_in_order_with_their_arithmetic(self):
        text = " ".join(self.ask("--fix", *BAD, *CLEAN, "volume=12 m3", "fish=20 kg").stdout.split())
        places = [text.index(words) for words in (
            "What to do now, in this order; amounts for 12 m3", "1. Stop feeding", "2. Change 50 % of the water: 6 m3.",
            "ammonia: 2 x 0.5 + 0 x 0.5 = 1 mg/L as N", "nitrite: 1 x 0.5 + 0 x 0.5 = 0.5 mg/L as N",
            "of plain salt", "(5 - 0) / 0.6066 x 12 m3 = 98.9 g", "Test again 4 h from now",
            "Unfed fish: 20 kg x 0.12 g/kg/d", "Wait ", "At the end", "Keep the pump", "Call a veterinarian", "licensed electrician",
            "local codes")]
        self.assertEqual(places, sorted(places))
        self.assertNotIn("thiosulfate", text)

    def test_us_units_throughout(self):
        text = " ".join(self.ask("--fix", "--units", "us", *BAD, *CLEAN, "volume=12 m3").stdout.split())
        self.assertIn("the temperature by more than 3.6 degF", text)
        self.assertNotIn("degC", text)

    def test_json_says_the_same(self):
        plan = self.plan(*BAD, *CLEAN, "volume=12 m3")
        self.assertEqual(self.kinds(plan)[:2], ["stop_feeding", "change_water"])
        first_wait = next(i for i, step in enumerate(plan["steps"]) if step["wait_h"] > 0)
        self.assertEqual(self.kinds(plan).index("test_again"), first_wait - 1)
        for step in plan["steps"]:
            self.assertEqual(set(step), STEP_MEMBERS)
        self.assertEqual(plan["left"], [])
        self.assertLess(plan["end"]["nh3_mgN_L"], 0.02)
        self.assertLess(plan["end"]["nitrite_mgN_L"], 0.2)
        salt = next(step for step in plan["steps"] if step["kind"] == "salt")
        self.assertAlmostEqual(salt["amount"], 5 / 0.6066 * 12, delta=0.1)
        self.assertEqual(salt["unit"], "g")

    def test_following_the_plan_is_a_good_idea(self):
        """Each step's water, given back as a sample, is not worse by the program's own judgement."""
        grades = {None: -1, "within limits": 0, "caution": 1, "danger": 2}
        plan = self.plan(*BAD, *CLEAN)
        nh3, last = math.inf, {}
        for step in plan["steps"]:
            water = step["settled"]
            _, figures = self.ask_json(
                f"temperature={water['temperature_degC']} degC", f"pH={water['ph']}",
                f"ammonia={water['ammonia_mgN_L']} mg/L as N", f"nitrite={water['nitrite_mgN_L']} mg/L as N",
                f"alkalinity={water['alkalinity_mgCaCO3_L']} mg/L as CaCO3",
                *([f"chloride={water['chloride_mg_L']} mg/L"] if water["chloride_mg_L"] is not None else []))
            self.assertLessEqual(figures["nh3"]["value"], nh3 * (1 + 1e-9))
            self.assertAlmostEqual(figures["nh3"]["value"], water["nh3_mgN_L"], places=9)
            nh3 = figures["nh3"]["value"]
            for key, figure in figures.items():
                if last.get(key, -1) >= 0: # salt brings chloride
                    self.assertLessEqual(grades[figure["grade"]], last[key])
                last[key] = grades[figure["grade"]]

    def test_chlorine(self):
        source = [word for word in CLEAN if "chlorine" not in word]
        unknown = self.plan(*BAD, *source, "source chlorine=unknown", "volume=10 m3")
        self.assertTrue(unknown["source"]["chlorine_assumed"])
        self.assertEqual(unknown["source"]["chlorine_mgCl2_L"], 4)
        steps = unknown["steps"]
        for step, change in zip(steps, steps[1:]):
            if step["kind"] == "dechlorinate":
                self.assertEqual(change["kind"], "change_water")
                self.assertAlmostEqual(step["amount"], 7 * 4 * 10 * change["amount"], places=6)
        self.assertEqual(self.kinds(unknown).count("dechlorinate"), self.kinds(unknown).count("change_water"))
        text = " ".join(self.ask("--fix", *BAD, *source).stdout.split())
        self.assertIn("40 CFR 141.65", text)
        self.assertIn("4 x 0.1975 = 0.79 mg/L as N", text)
        told = self.plan(*BAD, *source, "source chlorine=1.5 mg/L as Cl2", "source chlorine form=chlorine")
        self.assertFalse(told["source"]["chloramine_assumed"])
        self.assertEqual(told["source"]["ammonia_mgN_L"], 0)

    def test_the_arithmetic_is_right(self):
        """What is printed as a calculation gives what is printed as its result."""
        source = [word for word in CLEAN if "chlorine" not in word]
        number = r"([\d.]+)"
        for system in ("metric", "us"):
            text = " ".join(self.ask("--fix", *BAD, *source, "volume=12 m3", "--units", system).stdout.split())
            mixes = re.findall(rf": {number} x {number} \+ {number} x {number} = {number} mg/L", text)
            self.assertGreater(len(mixes), 5)
            for mix in mixes:
                a, keep, b, share, result = map(float, mix)
                self.assertAlmostEqual(keep + share, 1, places=6)
                self.assertAlmostEqual((a * keep + b * share) / result, 1, delta=0.01, msg=mix)
            gallons = " x 0.003785 m3/gal" if system == "us" else ""
            unit = "gal" if system == "us" else "m3"
            doses = re.findall(rf"{number} {unit}{gallons} x {number} g/m3 chlorine x 7 = {number} g", text)
            self.assertEqual(len(doses), text.count("Change "))
            for volume, chlorine, grams in (map(float, dose) for dose in doses):
                cubic = volume * (0.003785 if system == "us" else 1)
                self.assertAlmostEqual(cubic * chlorine * 7 / grams, 1, delta=0.01)
            changed = re.findall(rf"Change {number} % of the water: {number} {unit}", text)
            for (percent, volume), (treated, _, _) in zip(changed, doses):
                self.assertEqual(volume, treated)
                whole = 12 / 0.003785412 if system == "us" else 12
                self.assertAlmostEqual(float(percent) / 100 * whole / float(volume), 1, delta=0.01)

    def test_source_water_that_poisons(self):
        text = " ".join(self.ask("--fix", *BAD, "source pH=8.9", "source alkalinity=180 mg/L as CaCO3",
                                 "source ammonia=1 mg/L as N").stdout.split())
        self.assertIn("No water change with this source water: with 25 % the pH would go from 8.40 to", text)
        self.assertIn("What then: use other water", text)
        self.assertNotIn("Change 5", text)

    def test_soda_comes_after_ammonia(self):
        water = ["temperature=20 degC", "pH=7.2", "ammonia=6 mg/L as N", "alkalinity=50 mg/L as CaCO3"]
        text = " ".join(self.ask("--fix", *water).stdout.split())
        self.assertIn("No baking soda now, though alkalinity is low", text)
        self.assertIn("Ammonia has to come down first.", text)
        self.assertNotIn("Add ", text)
        plan = self.plan(*water, "source pH=7.2", "source alkalinity=50 mg/L as CaCO3", "source chlorine=0 mg/L")
        kinds = self.kinds(plan)
        self.assertIn("baking_soda", kinds)
        self.assertGreater(kinds.index("baking_soda"), len(kinds) - kinds[::-1].index("change_water") - 1)

    def test_acid_water(self):
        text = " ".join(self.ask("--fix", "temperature=20 degC", "pH=6.1", "ammonia=6 mg/L as N",
                                 "alkalinity=15 mg/L as CaCO3").stdout.split())
        self.assertIn("Below pH 6.5 the filter stands still", text)
        self.assertIn("at pH 8 it would be 3.81 %", text)

    def test_no_volume(self):
        metric = " ".join(self.ask("--fix", "nitrite=2 mg/L as N").stdout.split())
        self.assertIn("for every 1000 L of water", metric)
        self.assertIn("(20 - 0) / 0.6066 x 1 m3 = 33 g", metric)
        us = " ".join(self.ask("--fix", "nitrite=2 mg/L as N", "--units", "us").stdout.split())
        self.assertIn("for every 1000 gal of water", us)
        self.assertIn("(20 - 0) / 0.6066 x 1000 gal x 0.003785 m3/gal = 125 g (4.4 oz)", us)
        self.assertIn("not used", self.ask("--fix", "nitrite=2 mg/L as N", "fish=3 kg").stderr)

    def test_missing_readings(self):
        text = " ".join(self.ask("--fix", "ammonia=3 mg/L as N").stdout.split())
        self.assertIn("1. Stop feeding", text)
        self.assertIn("No change of water can be reckoned yet: it takes the temperature and pH of the pond, and the pH of "
                      "the source water.", text)
        text = " ".join(self.ask("--fix", "ammonia=3 mg/L as N", "temperature=20 degC", "source pH=7.5").stdout.split())
        self.assertIn("it takes the pH of the pond.", text)

    def test_air_that_cannot_wait_is_excepted(self):
        readings = ("temperature=14.6 degC", "pH=6.67", "ammonia=0.821 mg/L as N", "nitrite=4.51 mg/L as N",
                    "alkalinity=193 mg/L as CaCO3")
        text = " ".join(self.ask("--fix", *readings, "oxygen=3.9 mg/L").stdout.split())
        self.assertIn("pH 6.67 -> 8.70", text)
        self.assertIn("No step but the air that cannot wait moves the pH by more than 0.3", text)
        # all three of the pond were given
        self.assertIn("it takes the pH of the source water. A change", text)
        text = " ".join(self.ask("--fix", *readings).stdout.split())
        self.assertIn("No step moves the pH by more than 0.3", text)

    def test_what_to_measure_is_told(self):
        text = " ".join(self.ask("--fix", "ammonia=3 mg/L as N").stdout.split())
        self.assertIn("Measure too, for a better plan: temperature, pH, nitrite", text)
        self.assertNotIn("At the end", text)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
