# SPDX-License-Identifier: GPL-3.0-or-later
"""The file of a study in Octave, which needs no more than `load`."""
import os
import subprocess

from harness import Case, main

SCRIPT = """
s = load("{path}");
printf("%d ", size(s.answer_05_mps), size(s.lag_mm), size(s.reason)); printf("\\n");
printf("%s ", class(s.status), class(s.answer_40_mps), class(s.lag_mm)); printf("\\n");
printf("%d ", s.status([1 6 43])); printf("\\n");
printf("%d ", s.answer_40_mps(1:3)); printf("\\n");
printf("%d ", isnan(s.answer_05_mps([1 6]))); printf("\\n");
printf("%.6f ", s.time_ms([1 20]), s.head_mass_g([1 9])); printf("\\n");
printf("%s\\n", deblank(strrep(s.reason(6, :), "\\0", " ")));
"""


class Octave(Case):
    def test_load(self):
        path = self.dir / "a.h5"
        subprocess.run([os.environ["STUDY_WRITER"], "write", path, "new", "points=20"], check=True,
                       stdout=subprocess.DEVNULL)
        done = subprocess.run(["octave-cli", "--norc", "--no-history", "--quiet", "--eval",
                               SCRIPT.format(path=path)], text=True, capture_output=True,
                              check=True, env=dict(os.environ, HOME=str(self.dir)))
        # HDF5's last dimension is Octave's first, and one dimension is a row. The numbers are those
        # of study_writer.c.
        self.assertEqual(done.stdout.splitlines(), [
            "1 1000 20 1000 1000 256 ", "int8 int32 double ", "0 4 7 ", "300 301 302 ", "0 1 ",
            "0.000000 237.500000 200.000000 208.000000 ", "the head never reached the ball"])
        self.assertNotIn("warning", done.stderr)
        self.assertNotIn("HDF5-DIAG", done.stderr)


if __name__ == "__main__":
    main()
