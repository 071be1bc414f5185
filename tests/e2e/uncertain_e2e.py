"""End-to-end tests of --uncertain in `compare`, `size` and `endure`: how sure an answer is.

usage: uncertain_e2e.py PROGRAM SOURCE_ROOT CLASS[.METHOD] ...
"""

import csv
import json
import re
import sys
import unittest

sys.dont_write_bytecode = True
from run_e2e import ESCAPE, SMALL, EndToEnd, refuse_constant, towerloop  # noqa: E402

RUNS = 130  # three blocks


class Uncertain(EndToEnd):
    COMMAND = ""

    def setUp(self):
        super().setUp()
        self.file = self.write(SMALL)

    def done(self, *args, status=0, out="out", file=None):
        process = towerloop(self.COMMAND, file or self.file, "--no-charts", "--out", self.folder / out, *args)
        self.expect(process, status)
        text = process.stdout
        self.assertNotIn(ESCAPE, text)
        self.assertNotRegex(text.lower(), r"\bnan\b|\binf\b")
        self.assertTrue(all(len(line) <= 80 and line == line.rstrip() for line in text.split("\n")), text)
        return process

    def json(self, out="out", name=None):
        text = (self.folder / out / (name or f"{self.COMMAND}.json")).read_text(encoding="utf-8")
        return json.loads(text, parse_constant=refuse_constant)

    def spread(self, *sets, out="spread", runs=RUNS, more=(), file=None):
        args = [part for one in sets for part in ("--set", one)]
        process = towerloop("spread", file or self.file, "--runs", runs, "--no-charts", "--quiet", "--out",
                            self.folder / out, *args, *more)
        self.expect(process, 0)
        return self.json(out, "spread.json")

    def flat(self, process):
        return " ".join(process.stdout.split())

    def near(self, mine, its, what):
        """Files have 10 digits or 17."""
        self.assertEqual((mine["runs"], mine["of"]), (its["runs"], its["of"]), what)
        for end in ("share", "low", "high"):
            self.assertAlmostEqual(mine[end], its[end], places=9, msg=what)

    def same_chances(self, mine, spread):
        self.assertEqual(mine["verdict"], spread["verdict"])
        self.assertEqual(mine["not_known"], spread["not_known"])
        for name in ("within_limits", "caution", "danger", "fish_lost"):
            self.near(mine[name], spread["chance"][name], name)
        self.assertEqual([one["name"] for one in mine["limits"]], [one["name"] for one in spread["limits"]])
        for one, other in zip(mine["limits"], spread["limits"]):
            for grade in ("caution", "danger"):
                self.near(one[grade], other[grade], one["name"])

    def refuses(self, *args, says, status=2):
        process = towerloop(self.COMMAND, self.file, "--no-charts", "--out", self.folder / "out", *args)
        self.expect(process, status)
        self.assertEqual(process.stdout, "")
        for one in says:
            self.assertIn(one, process.stderr)
        self.assertFalse((self.folder / "out").exists())

    def refuses_as_all_do(self, *args):
        for bad in ("9", "0", "many", "1e3", "10000000"):
            self.refuses(*args, "--uncertain", bad, says=[f"--uncertain: '{bad}' will not do; expected a whole number"])
        for lonely in (("--seed", "3"), ("--inputs", "published")):
            self.refuses(*args, *lonely, says=["expected --uncertain N"])
        self.write(SMALL + "spread:\n  pump.flow: {uniform: [700 gal/h, 900 gal/h]}\n")
        self.refuses(*args, "--uncertain", "20", "--set", "pump.flow=300 gal/h",
                     says=["--set pump.flow=300 gal/h: the spread takes values of its own for this key"])


class Compare(Uncertain):
    COMMAND = "compare"
    VARY = ("--vary", "fish[0].count=12,40,120")

    def test_each_variant_has_the_chances_of_its_spread(self):
        process = self.done(*self.VARY, "--uncertain", RUNS, "--seed", "5")
        variants = self.json()["variants"]
        self.assertEqual(len(variants), 3)
        for count, one in zip((12, 40, 120), variants):
            spread = self.spread(f"fish[0].count={count}", out=f"spread-{count}", more=("--seed", "5"))
            self.same_chances(one["uncertain"], spread)
        danger = [one["uncertain"]["danger"]["runs"] for one in variants]
        self.assertEqual(danger, sorted(danger))
        self.assertGreater(danger[2], danger[0])
        asked = self.json()["uncertain"]
        self.assertEqual((asked["runs"], asked["seed"], len(asked["inputs"])), (RUNS, "5", 20))
        text = self.flat(process)
        self.assertIn("How sure: 130 runs of each variant, each with other values for 20 uncertain inputs (seed 5), "
                      "the same values for all.", text)
        lost = [one["uncertain"]["fish_lost"] for one in variants]
        self.assertIn(0, [one["runs"] for one in lost])
        self.assertIn("Fish lost 0: in none of 130 runs (90 % sure: at most 2.3 of 100).", text)
        self.assertAlmostEqual(max(one["high"] for one in lost if one["runs"] == 0), 1 - 0.05 ** (1 / RUNS), places=9)
        self.assertRegex(process.stdout, r"(?m)^count 120 +0 \(0-[\d.]+\) +[>\d.]+ \([\d.]+-[\d.]+\)")

    def test_better_and_worse_are_counted_run_by_run(self):
        """Against the grades in the blocks' own folders there is only the spread; so count by two variants that
        cannot differ, and by one that can only be worse."""
        self.done("--vary", "fish[0].count=12,400", "--uncertain", RUNS)
        base, crowd = (one["uncertain"] for one in self.json()["variants"])
        self.assertIsNone(base["better_than_first"])
        self.assertEqual(crowd["better_than_first"]["runs"], 0)
        self.assertEqual(crowd["worse_than_first"]["runs"],
                         crowd["danger"]["runs"] - base["danger"]["runs"])  # all crowded ones are in danger
        self.assertEqual(crowd["danger"]["runs"], RUNS)
        self.done("--vary", "report every=1 h,2 h", "--uncertain", RUNS, out="alike")
        alike = self.json("alike")["variants"][1]["uncertain"]
        self.assertEqual((alike["better_than_first"]["runs"], alike["worse_than_first"]["runs"]), (0, 0))

    def test_variants_of_a_file_and_own_inputs(self):
        text = SMALL + ("variants:\n  - {name: forty, set: {'fish[0].count': 40}}\n"
                        "spread:\n  pump.flow: {uniform: [300 gal/h, 900 gal/h]}\n"
                        "  temperature: {uniform: [18 degC, 26 degC]}\n")
        self.write(text)
        self.done("--uncertain", RUNS)
        for count, one in zip((12, 40), self.json()["variants"]):
            self.same_chances(one["uncertain"], self.spread(f"fish[0].count={count}", out=f"own-{count}"))
        self.assertEqual(self.json()["uncertain"]["inputs"], ["pump.flow", "temperature"])
        self.done("--uncertain", RUNS, "--inputs", "published", out="published")
        self.assertEqual(len(self.json("published")["uncertain"]["inputs"]), 20)

    def test_threads_and_going_on_change_nothing(self):
        """Blocks that are there are not run again, one that is spoilt is; the folder is that of one go."""
        self.done(*self.VARY, "--uncertain", RUNS, "--threads", "1", out="one")
        self.done(*self.VARY, out="two")
        self.assertIsNone(self.json("two")["uncertain"])
        self.done(*self.VARY, "--uncertain", RUNS, "--threads", "3", out="two")
        contents = lambda out: {str(p.relative_to(self.folder / out)): p.read_bytes()
                                for p in (self.folder / out).rglob("*") if p.is_file()}
        one = contents("one")
        self.assertEqual(one, contents("two"))
        blocks = sorted((self.folder / "two/uncertain").rglob("*.block"))
        self.assertEqual(len(blocks), 9)
        before = [path.stat().st_mtime_ns for path in blocks]
        blocks[4].write_bytes(blocks[4].read_bytes()[:-1])
        self.done(*self.VARY, "--uncertain", RUNS, out="two")
        after = [path.stat().st_mtime_ns for path in blocks]
        self.assertEqual([i for i in range(9) if before[i] != after[i]], [4])
        self.assertEqual(one, contents("two"))
        self.done(*self.VARY, "--uncertain", RUNS, "--force", out="two")  # all in it is known as ours
        self.assertEqual(one, contents("two"))

    def test_table_and_page(self):
        self.done(*self.VARY, "--uncertain", RUNS, "--report")
        with open(self.folder / "out/compare.csv", encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        for row, one in zip(rows, self.json()["variants"]):
            self.assertEqual(int(row["uncertain_runs"]), RUNS)
            self.assertEqual(int(row["uncertain_danger_runs"]), one["uncertain"]["danger"]["runs"])
            self.assertAlmostEqual(float(row["uncertain_within_limits_high"]), one["uncertain"]["within_limits"]["high"],
                                   places=7)
        against = [name for name in rows[0] if re.match("uncertain_(better|worse)_than_first_", name)]
        self.assertEqual(len(against), 6)
        self.assertEqual({rows[0][name] for name in against}, {""})
        self.assertNotIn("", [rows[1][name] for name in against])
        page = re.sub(r"<[^>]*>", "", (self.folder / "out/report.html").read_text(encoding="utf-8"))
        for words in ("130 runs of each variant, each with other values for 20 uncertain inputs",
                      "Within limits, of 100 uncertain runs"):
            self.assertTrue(words in page, words)
        self.assertTrue(re.search(r"count 40 \(danger in [\d.]+ of 100 runs\); count 120 \(danger in all 130 runs\)", page))
        self.done(*self.VARY, "--report", out="plain")
        page = (self.folder / "plain/report.html").read_text(encoding="utf-8")
        self.assertFalse("uncertain" in page)
        self.assertTrue("default parameters" in page)
        with open(self.folder / "plain/compare.csv", encoding="utf-8", newline="") as file:
            self.assertEqual({row["uncertain_runs"] + row["uncertain_worse_than_first_high"] for row in csv.DictReader(file)},
                             {""})

    def test_without_it_the_verdict_is_that_of_default_parameters(self):
        process = self.done(*self.VARY)
        self.assertIn("with default parameters: ", self.flat(process))
        self.assertNotIn("How sure", process.stdout)

    def test_fail_on_goes_by_the_runs_with_default_parameters(self):
        vary = ("--vary", "fish[0].count=12,13")
        process = self.done(*vary, "--uncertain", RUNS, "--fail-on", "danger")
        self.assertTrue(all(one["uncertain"]["verdict"] == "danger" for one in self.json()["variants"]), process.stdout)

    def test_refusals(self):
        self.refuses_as_all_do(*self.VARY)
        for args, says in ((("--vary", "pump.flow=300 gal/h,400 gal/h"), "--vary pump.flow: the spread takes values"),):
            self.refuses(*args, "--uncertain", "20", says=[says])
        self.write(SMALL + "variants:\n  - {name: slow, set: {pump.flow: 300 gal/h}}\n"
                           "spread:\n  pump.flow: {uniform: [700 gal/h, 900 gal/h]}\n")
        self.refuses("--uncertain", "20", says=['variant "slow": pump.flow="300 gal/h": the spread takes values of its own'])

    def test_what_varies_by_itself_cannot_be_set_by_another_name(self):
        """As a part of a mapping, through what it follows from, or as the same place written differently."""
        spread = ("spread:\n  pump.flow: {uniform: [700 gal/h, 900 gal/h]}\n"
                  "  tower.specific surface: {uniform: [150 m2/m3, 250 m2/m3]}\n"
                  "  'fish[0].mean mass': {uniform: [400 g, 600 g]}\n")
        self.write(SMALL + spread)
        for vary, key in (("pump={flow: 720 gal/h, to tower: 100 %},{flow: 800 gal/h, to tower: 100 %}", "pump.flow"),
                          ("tower.media=lava rock,gravel", "tower.specific surface"),
                          ("fish[00].mean mass=500 g,550 g", "fish[0].mean mass")):
            self.refuses("--vary", vary, "--uncertain", "20", says=[f": it sets {key}, too, but the spread takes values"])
        self.refuses(*self.VARY, "--set", "pump={flow: 720 gal/h}", "--uncertain", "20",
                     says=["--set: it sets pump.flow, too"])
        self.done("--vary", "tank.volume=5 m3,6 m3", "--set", "pump={flow: 750 gal/h, to tower: 100 %}", "--set",
                  "spread.pump.flow={uniform: [740 gal/h, 760 gal/h]}", "--uncertain", "20")

    def test_an_own_value_outside_of_the_built_in_range_is_told(self):
        says = "parameters.mu_aob: the scenario's own value lies outside of the built-in range"
        process = self.done("--vary", "parameters.mu_aob=0.6 1/d,0.35 1/d,0.35 1/d", "--uncertain", "20")
        self.assertIn(f'warning: variant "mu_aob 0.35 1/d": {says}, so nearly all runs take more than it',
                      process.stderr)
        self.assertEqual(process.stderr.count(says), 1)
        process = self.done(*self.VARY, "--set", "parameters.b_aob=0.4 1/d", "--uncertain", "20", out="less")
        self.assertEqual(process.stderr.count("nearly all runs take less than it"), 1)
        self.assertNotIn("built-in range", self.done(*self.VARY, "--uncertain", "20", out="in").stderr)

    def test_a_difference_of_two_files_that_the_spread_hides_is_told(self):
        spread = "spread:\n  pump.flow: {uniform: [700 gal/h, 900 gal/h]}\n"
        one = self.write(SMALL + spread)
        other = self.write(SMALL.replace("flow: 800 gal/h", "flow: 720 gal/h") + spread, "other.yaml")
        process = self.done(other, "--uncertain", "20", file=one)
        self.assertIn('warning: pump.flow: "other" has another value than', process.stderr)
        self.write(SMALL.replace("flow: 800 gal/h", "flow: 720 gal/h") + spread.replace("900", "800"), "other.yaml")
        self.assertNotIn("pump.flow", self.done(other, "--uncertain", "20", file=one, out="apart").stderr)



class Size(Uncertain):
    COMMAND = "size"
    SWING = ("--set", "limits.pH swing={caution: 1.5, danger: 2}")
    MOST = ("--most", "fish[0].count", "--margin", "4 %", *SWING)

    def test_the_answer_has_the_chances_of_its_spread(self):
        process = self.done(*self.MOST, "--uncertain", RUNS, "--seed", "4")
        answer = self.json()["answers"][0]
        for one, key in ((answer["answer"], "uncertain"), (answer["fails_beside"], "uncertain_beside")):
            count = f"fish[0].count={one['value']:g}"
            self.same_chances(answer[key], self.spread(count, self.SWING[1], out=key, more=("--seed", "4")))
        self.assertIsNone(answer["uncertain"]["worse_than_first"])
        self.assertGreaterEqual(answer["uncertain_beside"]["worse_than_first"]["runs"], 0)
        asked = self.json()["uncertain"]
        self.assertEqual((asked["runs"], asked["seed"]), (RUNS, "4"))
        text = self.flat(process)
        self.assertRegex(text, r"^The most fish\[0\]\.count: \d+\. The water stays within limits in [^.]+(\.\d+[^.]*)* "
                               r"runs \(90 % sure: .*\) and comes into danger in .* runs \(90 % sure: .*\)\. With default "
                               r"parameters every limit holds there with at least 4 % to spare\.")
        self.assertIn("How sure: 130 runs of each, each with other values for 20 uncertain inputs (seed 4), the same "
                      "values for all.", text)
        self.assertIn("Take care: this is not enough to count on. Try fewer than this,", text)
        self.assertIn("Most often beyond caution: ", text)

    def test_going_on_is_not_advised_into_what_fails_again(self):
        mind = "Mind that it fails again with still fewer, as told above."
        text = self.flat(self.done(*self.MOST, "--uncertain", 64))
        self.assertIn("Take care: it fails again with fewer. With 3: pH, high side", text)
        self.assertIn("Try fewer than this, or more to spare (--margin), with --uncertain again. " + mind, text)
        wide = ("--set", "limits.pH={danger high: 10, caution high: 9.5}")
        text = self.flat(self.done(*self.MOST, *wide, "--uncertain", 64, out="wide"))
        self.assertIn("Try fewer than this,", text)
        self.assertNotIn("fails again", text)

    def test_what_is_enough_is_not_called_too_little(self):
        """Next to nothing uncertain: all runs are the answer's own."""
        self.write(SMALL + "spread:\n  parameters.mu_aob: {uniform: [0.7799999 1/d, 0.7800001 1/d]}\n")
        text = self.flat(self.done(*self.MOST, "--uncertain", RUNS))
        self.assertIn("The water stays within limits in all 130 runs (90 % sure: at least 97.7 of 100)", text)
        self.assertNotIn("not enough", text)
        few = self.flat(self.done(*self.MOST, "--uncertain", 20, out="few"))
        self.assertIn("These are too few runs to be sure", few)
        self.assertNotIn("not enough", few)

    def test_two_quantities(self):
        process = self.done("--least", "tower.trays", *self.MOST, "--uncertain", "20")
        answers = [one for one in self.json()["answers"] if one["answer"]]
        self.assertGreater(len(answers), 2)
        last = answers[-1]
        self.same_chances(last["uncertain"],
                          self.spread(f"tower.trays={last['first_value']:g}", self.SWING[1],
                                      f"fish[0].count={last['answer']['value']:g}", runs=20))
        self.assertIn(f"{last['first_value']:g} with {last['answer']['value']:g}: ", self.flat(process))

    def test_threads_and_going_on_change_nothing(self):
        self.done(*self.MOST, "--uncertain", RUNS, "--threads", "1", out="one")
        self.done(*self.MOST, out="two")
        self.done(*self.MOST, "--uncertain", RUNS, "--threads", "3", out="two")
        self.assertEqual(self.json("one"), self.json("two"))
        self.assertEqual({path.name for path in (self.folder / "two/uncertain").iterdir()}, {"answer", "beside"})
        self.done(*self.MOST, "--uncertain", RUNS, "--force", out="two")
        self.assertEqual(self.json("one"), self.json("two"))

    def test_without_it_the_words_say_with_default_parameters(self):
        text = self.flat(self.done(*self.MOST))
        self.assertIn("With default parameters every limit holds there", text)
        self.assertNotIn("ow sure", text)
        self.assertIsNone(self.json()["answers"][0]["uncertain"])
        self.assertIsNone(self.json()["uncertain"])

    def test_no_answer_no_chances(self):
        process = self.done("--most", "fish[0].count", "--uncertain", "20", status=1)
        self.assertNotIn("ow sure", process.stdout)
        self.assertIsNone(self.json()["answers"][0]["uncertain"])

    def test_refusals(self):
        self.refuses_as_all_do(*self.MOST)
        self.refuses("--least", "pump.flow", "--uncertain", "20",
                     says=["--least pump.flow: the spread takes values of its own for this key"])



class Endure(Uncertain):
    COMMAND = "endure"
    CROWD = ("--set", "fish[0].count=60")
    LIVELY = "spread:\n  parameters.o2_activity: {uniform: [%s, %s]}\n"

    def moments(self, out="out"):
        return {one["what"]: one for one in self.json(out)["uncertain"]["oxygen"]}

    @staticmethod
    def no_sooner(moment, of=95):
        return next(one["minutes"] for one in moment["no_sooner_than"] if one["in_of_100"] == of)

    def plain(self, activity, out):
        """The times of the failure with that much activity, at the hour of the others."""
        self.done(*self.CROWD, "--at", "day 2 19:00", "--set", f"parameters.o2_activity={activity}", out=out)
        case = next(one for one in self.json(out)["cases"] if one["case"] == "failure_power")
        return {"caution": case["minutes_to_caution"], "danger": case["minutes_to_danger"],
                "fish_loss": case["minutes_to_fish_loss"]}

    def test_with_next_to_nothing_uncertain_all_runs_are_the_plain_one(self):
        self.write(SMALL + self.LIVELY % ("1.4999999", "1.5000001"))
        self.done(*self.CROWD, "--at", "day 2 19:00", "--uncertain", RUNS)
        plain = self.plain("1.5", "plain")
        moments = self.moments()
        self.assertGreater(plain["fish_loss"], plain["danger"])
        for what, minutes in plain.items():
            self.assertEqual(moments[what]["in_outage"]["runs"], RUNS)
            for of in (95, 75, 50):
                self.assertAlmostEqual(self.no_sooner(moments[what], of), minutes, delta=0.02 * minutes + 0.2, msg=what)

    def test_times_lie_where_the_inputs_put_them(self):
        """The livelier the fish, the sooner: by hand at the ends of the range, and near the 95th of 100."""
        self.write(SMALL + self.LIVELY % ("1.2", "2.4"))
        process = self.done(*self.CROWD, "--at", "day 2 19:00", "--uncertain", 500)
        self.write(SMALL)
        lazy, near, lively = (self.plain(activity, f"plain-{activity}") for activity in ("1.2", "2.3", "2.4"))
        moments = self.moments()
        for what in ("caution", "danger", "fish_loss"):
            sure = self.no_sooner(moments[what])
            self.assertGreater(sure, lively[what] - 0.5, what)
            self.assertLess(sure, near[what] + 0.5, what)
            self.assertLess(sure, self.no_sooner(moments[what], 50))
            if lazy[what] is not None:
                self.assertLess(self.no_sooner(moments[what], 50), lazy[what], what)
        text = self.flat(process)
        hours, minutes = divmod(int(self.no_sooner(moments["danger"])), 60)
        self.assertIn(f"in 95 of 100 runs no sooner than {hours} h {minutes} min, in half of them no sooner than ", text)
        self.assertIn("How sure: 500 runs of this failure at this hour, each with other values for 1 uncertain input "
                      "(seed 1).", text)

    def test_that_is_sooner_than_the_plain_run_says(self):
        self.done(*self.CROWD, "--uncertain", RUNS)
        plain = next(one for one in self.json()["cases"] if one["case"] == "failure_power")
        danger = self.moments()["danger"]
        self.assertLess(self.no_sooner(danger), plain["minutes_to_danger"])
        self.assertEqual(len(self.json()["uncertain"]["inputs"]), 20)

    def test_too_few_runs_tell_no_time(self):
        for runs, known in ((58, False), (59, True)):
            process = self.done(*self.CROWD, "--uncertain", runs, out=f"out-{runs}")
            first = self.moments(f"out-{runs}")["danger"]["no_sooner_than"][0]
            self.assertEqual((first["in_of_100"], first["known"], first["minutes"] is not None), (95, known, known))
            text = self.flat(process)
            self.assertEqual("How soon in 95 of 100 runs cannot be told from fewer than 59." in text, not known)
            self.assertEqual("in 95 of 100 runs no sooner" in text, known)

    def test_what_never_comes_and_what_is_there_at_once(self):
        text = self.flat(self.done("--set", "fish[0].count=2", "--uncertain", RUNS, out="few"))
        self.assertIn("Danger comes in none of 130 runs", text)
        self.assertEqual(self.json("few")["uncertain"]["fish_lost_before"], 0)
        text = self.flat(self.done("--set", "fish[0].count=400", "--uncertain", RUNS, out="many"))
        self.assertIn("Danger comes in all 130 runs (90 % sure: at least 97.7 of 100): in half of them it may be there "
                      "at once.", text)
        self.assertGreater(self.json("many")["uncertain"]["fish_lost_before"], 0)

    def test_runs_that_cannot_be_count_as_at_once(self):
        self.write(SMALL + "spread:\n  tank.volume: {uniform: [0.2 m3, 12 m3]}\n")
        process = self.done("--uncertain", RUNS)
        unknown = self.json()["uncertain"]["not_known"]
        self.assertTrue(0 < unknown < 20, unknown)
        self.assertGreaterEqual(self.moments()["fish_loss"]["in_outage"]["runs"], unknown)
        self.assertIn(f"Runs that could not be calculated, and count as at once: {unknown}.", self.flat(process))

    def test_card(self):
        process = self.done(*self.CROWD, "--uncertain", RUNS, "--card")
        hours, minutes = divmod(int(self.no_sooner(self.moments()["danger"])), 60)
        line = (f"Danger (Power cut only, same hour), with other values for what is uncertain ({RUNS} runs): in 95 of 100 runs no sooner than "
                f"{hours} h {minutes} min.")
        self.assertIn(line, self.flat(process))
        page = " ".join(re.sub(r"<[^>]*>", "", (self.folder / "out/card.html").read_text(encoding="utf-8")).split())
        self.assertTrue(line in page)
        self.assertNotIn("uncertain", self.done(*self.CROWD, "--card", out="plain").stdout)

    def test_the_line_of_the_card_names_its_failure(self):
        """There are rows of other failures beside it, here of one that is much worse."""
        text = self.flat(self.done(*self.CROWD, "--fails", "aerator", "--uncertain", RUNS, "--card"))
        self.assertIn(f"Danger (Aerator dead only, same hour), with other values for what is uncertain ({RUNS} runs): in 95 of 100 "
                      "runs not within 12 h.", text)
        self.assertRegex(text, r"Power cut \d+ ")

    def test_threads_and_again_change_nothing(self):
        self.done(*self.CROWD, "--uncertain", RUNS, "--threads", "1", out="one")
        self.done(*self.CROWD, out="two")
        self.assertIsNone(self.json("two")["uncertain"])
        self.done(*self.CROWD, "--uncertain", RUNS, "--threads", "3", out="two")
        self.assertEqual(self.json("one"), self.json("two"))
        self.done(*self.CROWD, "--uncertain", RUNS, "--seed", "2", out="two")
        self.assertNotEqual(self.json("one"), self.json("two"))

    def test_refusals(self):
        self.refuses_as_all_do()


if __name__ == "__main__":
    unittest.main(argv=["uncertain_e2e", *sys.argv[3:]])
