# SPDX-License-Identifier: GPL-3.0-or-later
"""Studies from the shell: planned, run, in shards and joined, refused. test_sweep_ended.py ends them early."""
import json
import os
import re
import subprocess

import h5py
import numpy as np

from harness import CABER, MODELS, SETUP, SOURCE, main
from studies import CASES, COARSE, ONCE, PEAKS, Studies


class Plan(Studies):
    def test_of_a_study(self):
        out, err = self.sweep("--plan", "--threads", "2", study=MODELS / "studies/tip-and-rise.yaml")
        self.assertEqual(err, "")
        times = re.compile(r"^  (memory    \d.* MB|time      \d.* with 2 threads)\n|^ {12}as 16 points took: "
                           r"[\d.]+ ms a club, [\d.]+ ms a swing, [\d.]+ ms a ball\n", re.M)
        self.assertEqual(len(times.findall(out)), 3)
        self.golden("sweep-plan.txt", times.sub("", out))
        self.assertEqual(self.names(), [])

    @ONCE
    def test_the_readme(self):
        """Its commands run, and its plan is what is printed."""
        part = re.search(r"^## Studies\n(.*?)^## ", (SOURCE / "README.md").read_text(encoding="utf-8"), re.S | re.M)[1]
        blocks = re.findall(r"^```(\w*)\n(.*?)^```$", part, re.S | re.M)
        (self.dir / "models").symlink_to(MODELS)
        path = dict(os.environ, PATH="%s:%s" % (os.path.dirname(CABER), os.environ["PATH"]))
        commands = next(text for kind, text in blocks if kind == "sh" and "--plan" in text)
        done = subprocess.run(["sh", "-e"], input=commands, cwd=self.dir, env=path, text=True, capture_output=True,
                              check=True)
        self.assertEqual(done.stderr, "")
        shown = next(text for _, text in blocks if text.startswith("What it takes"))
        self.alike(done.stdout[done.stdout.index("What it takes"):][:len(shown)], shown)
        self.same_bytes("tip-and-rise.h5", "joined.h5")

    def test_kinds_of_factors(self):
        """Every way in which a factor can be given, and a series."""
        (self.dir / "cases.csv").write_text("mass,drive\ng,\n191,0\n209,0\n200,0\n")
        spread = """\
  - {name: shaft, path: shaft, files: [%s]}
  - {name: hand, path: player.handed, values: [right]}
  - {name: modes, path: settings.modes, from: 2, to: 5}
  - {name: peak, path: load.grip.peak, from: 10 N m, to: 20 N m, distribution: normal, mean: 15 N m, sd: 2 N m}
  - {name: mass, path: head.mass, from: 190 g, to: 210 g, distribution: triangular, peak: 0.2}
  - {name: rise, path: load.grip.rise, from: 0.1 s, to: 0.2 s, distribution: log-uniform}
design: {kind: halton, cases: 24}
series: {outputs: [lag_mm], step: 5 ms, until: 0.3 s}
""" % ", ".join(str(MODELS / "shafts" / name) for name in ("neutral.yaml", "soft-tip.yaml"))
        study = self.write("kinds.yaml", spread, head="replicates: 2\n")
        out, _ = self.sweep("--plan", study=study)
        for want in ("hand  +player.handed  +right", "modes  +settings.modes  +2 to 5, whole numbers",
                     "peak  +player.load.grip.peak  +10 N m to 20 N m, normal, mean 15 N m, sd 2 N m",
                     "mass  +head.mass  +190 g to 210 g, triangular, peak 200 g",
                     "rise  +player.load.grip.rise  +0.1 s to 0.2 s, log-uniform",
                     "swings  2 of the player's swings at each point", "cases     48", "swings    72",
                     "series.lag_mm; 61 times, 5 ms apart"):
            self.assertRegex(out, "(?m)^  %s$" % want)
        plan = json.loads(self.sweep("--plan", "--json", study=study)[0])
        self.assertEqual([plan[key] for key in ("points", "cases", "swings", "design", "series_times")],
                         [24, 48, 72, "halton", 61])
        self.assertEqual([f.get("values", f.get("from")) for f in plan["factors"]],
                         [[str(MODELS / "shafts" / n) for n in ("neutral.yaml", "soft-tip.yaml")],
                          ["right"], 2, 10, 190, 0.1])
        listed = self.write("listed.yaml", "  - {name: mass, path: head.mass}\n"
                            "  - {name: drive, path: player.handed, values: [right]}\n"
                            "design: {kind: cases, file: cases.csv}\n")
        self.assertRegex(self.sweep("--plan", study=listed)[0], "mass +head.mass +191 g to 209 g, as given")
        self.assertEqual(self.names(), [])

    @ONCE
    def test_shards_share_it(self):
        parts = [json.loads(self.sweep("--plan", "--json", "--shard", "%d/3" % k)[0]) for k in (1, 2, 3)]
        self.assertEqual(sum(p["cases_of_file"] for p in parts), parts[0]["cases"])
        self.assertEqual([p["file"] for p in parts], ["s.%d-of-3.h5" % k for k in (1, 2, 3)])

    @ONCE
    def test_what_it_says_is_about_what_it_takes(self):
        plan = json.loads(self.sweep("--plan", "--json", "--threads", "2")[0])
        with subprocess.Popen([CABER, "sweep", self.study, "--threads", "2"], cwd=self.dir,
                              stdout=subprocess.DEVNULL) as process:
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
        self.assertEqual(process.returncode, 0)
        self.assertLess(used.ru_maxrss * 1024 / plan["memory_bytes"], 2)
        self.assertGreater(used.ru_maxrss * 1024 / plan["memory_bytes"], 0.5)
        self.assertLess(abs(self.path.stat().st_size / plan["file_bytes"] - 1), 0.5)


class Runs(Studies):
    def test_a_run(self):
        out, err = self.sweep()
        self.assertEqual(err, "")
        self.assertRegex(out, r"\ACheap\n=====\n  file       s.h5\n  cases      (\d+)\n  went well  \1\n"
                              r"  this run   \1 cases in [\d.]+ s: \d+ swings a second\n\Z")
        self.assertEqual(self.names(), ["s.h5"])
        with h5py.File(self.path) as file:
            np.testing.assert_allclose(file["head_mass"][()], np.repeat(np.linspace(190, 210, 4), PEAKS))
            np.testing.assert_allclose(file["peak"][()], np.tile(np.linspace(4, 40, PEAKS), 4))
            self.assertEqual(file.attrs["study_text"], self.study.read_text())
            at = 2 * PEAKS - 1
            one = file["head_speed_mps"][at], file["carry_m"][at]
            values = file["head_mass"][at], file["peak"][at]
        # The same swing by itself; the file has its numbers in full.
        sets = [word for text in COARSE for word in ("--set", text)]
        alone = json.loads(self.good("swing", SETUP, *sets, "--set", "head.mass=%r g" % float(values[0]),
                                     "--set", "load.grip.peak=%r N m" % float(values[1]), "--json"))
        np.testing.assert_allclose(one, (alone["impact"]["head_speed_mps"], alone["impact"]["carry_m"]),
                                   rtol=1e-9)

    def test_the_same_bytes(self):
        """For any number of threads, a second time, and for shards that are joined."""
        self.sweep("--threads", "1")
        for threads in (2, 3):
            self.sweep("--threads", threads, "--output", "t%d.h5" % threads)
            self.same_bytes("s.h5", "t%d.h5" % threads)
        self.sweep("--replace")
        self.same_bytes("s.h5", "t2.h5")
        shards = []
        for k in (3, 1, 2):
            out, _ = self.sweep("--shard", "%d/3" % k)
            self.assertRegex(out, r"\n  cases      \d+ of \d+: shard %d of 3\n" % k)
            shards.append(self.dir / ("s.%d-of-3.h5" % k))
        joined = self.dir / "joined.h5"
        self.assertIn("\n  went well  %d\n" % CASES, self.good("gather", joined, *shards))
        self.same_bytes("s.h5", "joined.h5")
        self.assertIn("joined.h5 is there already; --replace writes it anew",
                      self.bad(1, "gather", joined, *shards))
        found = json.loads(self.good("gather", joined, *shards, "--replace", "--json"))
        self.assertEqual((found["good"], found["failed"], found["shards"]), (CASES, 0, 1))
        self.assertIn("s.3-of-3.h5 is shard 3 of 3, but 2 files were given",
                      self.bad(1, "gather", joined, *shards[:2], "--replace"))
        self.same_bytes("s.h5", "joined.h5")

    @ONCE
    def test_more_shards_than_chunks(self):
        """A job array may be larger than the study."""
        study = self.write("few.yaml", "  - {name: m, path: head.mass, from: 190 g, to: 210 g, levels: 3}\n"
                                       "design: {kind: grid}\noutputs: [carry_m]\n")
        self.sweep(study=study)
        for k in (1, 2):
            self.sweep("--shard", "%d/2" % k, study=study)
        self.good("gather", self.dir / "joined.h5", *self.dir.glob("few.*-of-2.h5"))
        self.same_bytes("few.h5", "joined.h5")

    def test_what_failed(self):
        """Counted by what is said, over all runs of a file and over shards."""
        study = self.write("bad.yaml", """\
  - {name: limit, path: settings.time_limit, values: [1e-4 s, 0.28 s, 1 s]}
  - {name: ei, path: "shaft.sections[0].ei_scale", values: [0.03, 1]}
  - {name: loft, path: head.loft, values: [3 deg, 12 deg]}
  - {name: peak, path: load.grip.peak, from: 4 N m, to: 40 N m, levels: 4}
design: {kind: grid}
outputs: [head_speed_mps, carry_m, side_m, ball_speed_mps]
""", coarse=['"shaft.sections[0].from=0 mm"', '"shaft.sections[0].to=1168 mm"'])
        out, err = self.sweep(study=study)
        self.assertEqual(err, "")
        self.golden("sweep-failed.txt", re.sub(r"(?m)^  this run .*\n", "", out))
        with h5py.File(self.dir / "bad.h5") as file:
            status = file["status"][()]
            missing = {name: int(sum(np.isnan(file[name][()]) & (status == 0)))
                       for name in ("carry_m", "side_m", "ball_speed_mps")}
            reasons = [text.decode() for text in file["reason"][()]]
        for k in (1, 2):
            self.sweep("--shard", "%d/2" % k, study=study)
        gathered = json.loads(self.good("gather", self.dir / "all.h5", *self.dir.glob("bad.*-of-2.h5"), "--json"))
        again = json.loads(self.sweep("--resume", "--json", study=study)[0])
        self.assertEqual(again.pop("run")["cases"], 0)
        for found in (gathered, again):
            self.assertEqual((found["good"], found["failed"]), (sum(status == 0), sum(status != 0)))
            self.assertEqual({f["status"]: f["count"] for f in found["failures"]},
                             {"ball_not_reached": sum(status == 4), "shaft_wrapped": sum(status == 5)})
            for f in found["failures"]:
                self.assertEqual(reasons[f["first_case"]], f["reason"])
            self.assertGreater(missing["carry_m"], 0)
            self.assertEqual(found["missing"], {name: n for name, n in missing.items() if n})

    def test_replicates_and_series(self):
        """Chunks that cut through a point's swings: the same bytes for any threads; counted with the usual one."""
        study = self.write("r.yaml", "  - {name: m, path: head.mass, from: 190 g, to: 210 g, levels: 3}\n"
                           "design: {kind: grid}\noutputs: [carry_m]\n"
                           "series: {outputs: [lag_mm], step: 10 ms, until: 0.3 s}\n", head="replicates: 11\n")
        found = json.loads(self.sweep("--threads", "1", "--json", study=study)[0])
        self.assertEqual(found["cases"], 33)
        self.assertGreaterEqual(found["run"]["swings"], 36)
        self.sweep("--threads", "3", "--output", "other.h5", study=study)
        self.same_bytes("r.h5", "other.h5")
        with h5py.File(self.dir / "r.h5") as file:
            self.assertEqual(file["series.lag_mm"].shape, (33, 31))
            np.testing.assert_array_equal(file["replicate"][()], np.tile(np.arange(11), 3))

    # ------------------------------------------------------------------ refused

    def test_a_file_is_in_the_way(self):
        self.sweep()
        before = self.path.read_bytes()
        _, err = self.sweep(status=1)
        self.assertRegex(err, r"s.h5 is there already; --resume goes on with it, --replace begins anew\n\Z")
        self.assertEqual(self.path.read_bytes(), before)
        # A finished one has nothing left to do, and a new name changes no number.
        self.study.write_text(self.study.read_text().replace("Cheap", "Thrifty"))
        self.assertIn("  this run   nothing was left to do\n", self.sweep("--resume")[0])
        for words, want in ((("--set", "load.grip.rise=0.14 s"),
                             "'rise: 0.15 s' there, 'rise: 0.14 s' in this one (setup.player.load.grip)"),
                            (("--shard", "1/2", "--output", "s.h5"),
                             "'shard: 1 of 1' there, 'shard: 1 of 2' in this one")):
            _, err = self.sweep("--resume", *words, status=1)
            self.assertIn("s.h5 is of another study: " + want, err)
        self.study.write_text(self.study.read_text().replace("210 g", "211 g"))
        _, err = self.sweep("--resume", status=1)
        self.assertIn("'to: 0.21' there, 'to: 0.211' in this one (factors.head_mass)", err)
        self.assertEqual(self.path.read_bytes(), before)

    def test_errors(self):
        for words, want in ((("--output", "none/s.h5"), "none/s.h5"),
                            (("--threads", "0"), "--threads: '0' is not a whole number from 1 to 256"),
                            (("--set", "load.grip.peek=3"), "peek"),
                            (("--set", "head.mass=-1 g"), "head.mass")):
            out, err = self.sweep(*words, status=1)
            self.assertEqual(out, "")
            self.assertRegex(err, r"\Acaber: .*%s.*\n\Z" % re.escape(want))
        self.assertIn("no.yaml: ", self.bad(1, "sweep", self.dir / "no.yaml"))
        self.study.write_text(self.study.read_text().replace("kind: grid", "kind: gird"))
        self.assertRegex(self.bad(1, "sweep", self.study), r"s.yaml:\d+:\d+: design.kind")
        self.assertEqual(self.names(), [])


if __name__ == "__main__":
    main()
