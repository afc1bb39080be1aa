# SPDX-License-Identifier: GPL-3.0-or-later
"""A study on the processes of an MPI job: the same file as that of `caber sweep`, byte for byte, whatever
happens on the way; and the scripts for a batch system, run as they are but without one."""
import os
import re
import signal
import struct
import subprocess
import time

from harness import BUILD, Case, SETUP, SOURCE, main, run

CABER_MPI = os.environ["CABER_MPI"]
SCRIPTS = SOURCE / "examples/cluster"
# One machine without a network, more processes than cores, perhaps as root, perhaps in a container.
os.environ.update({
    "OMPI_ALLOW_RUN_AS_ROOT": "1", "OMPI_ALLOW_RUN_AS_ROOT_CONFIRM": "1",
    "OMPI_MCA_rmaps_base_oversubscribe": "1", "OMPI_MCA_pml": "ob1", "OMPI_MCA_btl": "self,vader",
    "OMPI_MCA_btl_vader_single_copy_mechanism": "none", "OMPI_MCA_oob_tcp_if_include": "lo",
    "OMPI_MCA_plm_rsh_agent": "false"})

# As cheap as swings get: two modes, a coarse tolerance. Nothing here looks at their numbers.
STUDY = """kind: study
name: Rise and tip, coarsely
setup: %s
set: [settings.modes=2, settings.stations=8, settings.tolerance=1e-2, "shaft.sections[0].from=0 mm",
      "shaft.sections[0].to=400 mm"]
factors:
  - {name: rise, path: load.grip.rise, from: 0.10 s, to: 0.20 s, levels: %d}
  - {name: tip_ei, path: "shaft.sections[0].ei_scale", from: 0.8, to: 1.4, levels: 10}
design: {kind: grid}
outputs: [head_speed_mps, delivered_loft_deg, carry_m]
"""
# A part of it, where the whole is not needed.
PART = ("--shard", "1/4")


def mpirun(count, *words):
    """Exit status, standard output and standard error of a sweep on so many processes."""
    return run("--quiet", "-n", count, CABER_MPI, "sweep", *words, program="mpirun")


class Sweep(Case):
    def setUp(self):
        super().setUp()
        self.study = self.dir / "study.yaml"
        self.study.write_text(STUDY % (SETUP, 20))

    def want(self, *words):
        """What `caber sweep` writes."""
        self.good("sweep", self.study, "--output", self.dir / "want.h5", *words)
        return (self.dir / "want.h5").read_bytes()

    def until(self, journal, process, size=0):
        """Waits until a journal has a chunk, and more bytes than that: its head, which comes first, says its
        own length in the bytes 8 to 12 (store_journal.h)."""
        end = time.monotonic() + 60
        while True:
            head = journal.read_bytes()[:12] if journal.exists() else b""
            if len(head) == 12:
                size = max(size, 16 + struct.unpack_from("<I", head, 8)[0])
                if journal.stat().st_size > size:
                    return
            self.assertIsNone(process.poll(), "it has ended")
            self.assertLess(time.monotonic(), end)
            time.sleep(0.005)


class Ranks(Sweep):
    def test_the_same_bytes_on_any_number_of_processes(self):
        want = self.want(*PART)
        path = self.dir / "a.h5"
        words = (self.study, "--output", path, "--replace", *PART)
        self.good("sweep", *words, program=CABER_MPI)
        self.assertEqual(path.read_bytes(), want)
        for count, more in ((2, ("--threads", 2)), (3, ())):
            status, out, err = mpirun(count, *words, *more)
            self.assertEqual((status, err), (0, ""))
            self.assertIn("shard 1 of 4", out)
            self.assertEqual(path.read_bytes(), want)

    def test_ended_killed_and_resumed(self):
        want, path = self.want(), self.dir / "a.h5"
        journal = self.dir / "a.h5.journal"
        words = ("mpirun", "--quiet", "-n", "3", CABER_MPI, "sweep", self.study, "--output", path, "--resume")
        # Asked to end, it keeps what has begun and says how to go on.
        with subprocess.Popen(words, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
            self.until(journal, process)
            process.send_signal(signal.SIGUSR1)
            out, err = process.communicate(timeout=60)
        self.assertEqual((process.returncode, out), (3, ""))
        self.assertRegex(err.splitlines()[-1],
                         r"\Acaber-mpi: interrupted; (\d+) of 200 cases are done and kept; to go on: "
                         r"mpirun -n 3 caber-mpi sweep \S+ --output \S+ --resume\Z")
        done = int(re.search(r"; (\d+) of", err)[1])
        self.assertTrue(0 < done < 200, done)
        # A process that is lost takes the others with it; the file opens, and nothing that was done is lost.
        size = journal.stat().st_size
        with subprocess.Popen(words, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL) as process:
            self.until(journal, process, size)
            ranks = subprocess.run(["pgrep", "-P", str(process.pid), "caber-mpi"], text=True, check=True,
                                   capture_output=True).stdout.split()
            self.assertEqual(len(ranks), 3)
            os.kill(int(ranks[1]), signal.SIGKILL)
            self.assertNotEqual(process.wait(timeout=60), 0)
        self.assertEqual(run("sweep", self.study, "--output", path)[0], 1)
        out = self.good("sweep", self.study, "--output", path, "--resume")
        self.assertLess(int(re.search(r"this run +(\d+) cases", out)[1]), 200 - done)
        self.assertEqual(path.read_bytes(), want)
        self.assertFalse(journal.exists())

    def test_one_message_and_the_right_status(self):
        status, out, err = mpirun(2, "nowhere.yaml")
        self.assertEqual((status, out, err), (1, "", "caber-mpi: nowhere.yaml: there is no such file\n"))

    def test_another_study_elsewhere(self):
        for name, levels in (("here", 20), ("other", 19), ("none", 0)):
            (self.dir / name).mkdir()
            if levels:
                (self.dir / name / "study.yaml").write_text(STUDY % (SETUP, levels))
        words = []
        for name in ("here", "other", "none"):
            words += [":", "-n", 1, "-wdir", self.dir / name, CABER_MPI, "sweep", "study.yaml"]
        status, out, err = run("--quiet", *words[1:], program="mpirun")
        # Of two errors that of the first rank is said, and nothing was begun.
        self.assertEqual((status, out), (1, ""))
        self.assertRegex(err, r"\Acaber-mpi: rank 1: .*'points: 190' there, 'points: 200' in this one.*\n\Z")
        self.assertEqual(os.listdir(self.dir / "here"), ["study.yaml"])

    def test_help(self):
        text = self.good("--help", program=CABER_MPI)
        self.assertIn("caber-mpi sweep STUDY", text)
        self.assertEqual(self.good("--version", program=CABER_MPI), "caber-mpi" + self.good("--version")[5:])
        manual = re.sub(r"\\f.|\\&|\\", "", (BUILD / "man/caber-mpi.1").read_text(encoding="utf-8"))
        options = re.findall(r"^  (--[a-z-]+)", self.good("sweep", "--help", program=CABER_MPI), re.M)
        self.assertEqual(options, re.findall(r"^  (--[a-z-]+)", self.good("sweep", "--help"), re.M))
        for option in options:
            self.assertRegex(manual, re.escape(option) + r"\b(?!-)")
        status, out, err = run("sweep", "--bad", program=CABER_MPI)
        self.assertEqual((status, out, err), (2, "", "caber-mpi: sweep has no option '--bad'; try 'caber-mpi "
                                                     "sweep --help'\n"))

    def test_its_hdf5_is_the_serial_one(self):
        linked = subprocess.run(["ldd", CABER_MPI], text=True, check=True, capture_output=True).stdout
        self.assertIn("libhdf5", linked)
        self.assertNotRegex(linked, "hdf5.*mpi")


class Scripts(Sweep):
    """What a batch system would run, with the variables that it sets."""

    def script(self, name, *words, want=0, **env):
        done = subprocess.run([SCRIPTS / name, *map(str, words)], text=True, capture_output=True, timeout=120,
                              check=False, env=self.env(**env))
        self.assertEqual((done.returncode, done.stderr), (want, ""))
        return done.stdout

    @staticmethod
    def env(**more):
        return dict(os.environ, **more)

    def test_an_array_and_its_gathering(self):
        file = self.dir / "all.h5"
        self.study.write_text(STUDY % (SETUP, 8))
        want = self.want()
        for shard in "231":
            out = self.script("array.sh", self.study, file, SLURM_ARRAY_TASK_ID=shard, SLURM_ARRAY_TASK_MAX="3")
            self.assertIn("shard %s of 3" % shard, out)
        # Once more, as after a requeue; with the number of shards said.
        self.script("array.sh", self.study, file, "3", SLURM_ARRAY_TASK_ID="2", SLURM_CPUS_PER_TASK="2")
        self.script("gather.sh", file, "3")
        self.assertEqual(file.read_bytes(), want)
        (self.dir / "all.2-of-3.h5").unlink()
        done = subprocess.run([SCRIPTS / "gather.sh", file, "3"], text=True, capture_output=True, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("all.2-of-3.h5", done.stderr)

    def stopped(self, name, file, number, **env):
        """Ends a script with a signal once it has written something; the program must have ended first."""
        journal = file.with_name(file.name + ".journal")
        with subprocess.Popen([SCRIPTS / name, self.study, self.dir / "all.h5"], text=True, env=self.env(**env),
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
            self.until(journal, process)
            process.send_signal(number)
            out, err = process.communicate(timeout=60)
        self.assertEqual((process.returncode, out), (3, ""), err)
        self.assertIn("interrupted", err)

    def test_stopped_before_the_limit(self):
        self.stopped("array.sh", self.dir / "all.1-of-1.h5", signal.SIGUSR1, SLURM_ARRAY_TASK_ID="1",
                     SLURM_ARRAY_TASK_MAX="1")
        self.stopped("ranks.sh", self.dir / "all.h5", signal.SIGUSR1)
        self.script("ranks.sh", self.study, self.dir / "all.h5", SLURM_NTASKS="3")
        self.assertEqual((self.dir / "all.h5").read_bytes(), self.want())

    def test_wrong_use(self):
        for name, words in (("array.sh", (self.study,)), ("array.sh", (self.study, "a.h5")), ("gather.sh", ("a.h5",)),
                            ("ranks.sh", ())):
            done = subprocess.run([SCRIPTS / name, *words], text=True, capture_output=True, check=False)
            self.assertNotEqual(done.returncode, 0)
            self.assertEqual(done.stdout, "")

    def test_requests_stand_before_the_first_command(self):
        # sbatch reads no further (its manual: "before any executable commands").
        for path in SCRIPTS.glob("*.sh"):
            lines = path.read_text(encoding="utf-8").split("\n")
            first = next(i for i, line in enumerate(lines) if line and not line.startswith("#"))
            wanted = [i for i, line in enumerate(lines) if line.startswith("#SBATCH")]
            self.assertTrue(len(wanted) > 2 and max(wanted) < first, path.name)
            self.assertIn("--time=", path.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
