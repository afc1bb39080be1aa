# SPDX-License-Identifier: GPL-3.0-or-later
"""An installation under another prefix: what is there, and a program built against it in the two
ways that users have."""
import os
import pathlib
import subprocess

from harness import BUILD, Case, SETUP, SOURCE, main

HERE = pathlib.Path(__file__).resolve().parent


def tool(*command, **options):
    done = subprocess.run([str(word) for word in command], text=True, capture_output=True,
                          check=False, **options)
    if done.returncode:
        raise AssertionError("%s\n%s%s" % (command, done.stdout, done.stderr))
    return done.stdout


class Install(Case):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        import tempfile
        cls.keep = tempfile.TemporaryDirectory(prefix="caber-install-")
        cls.prefix = pathlib.Path(cls.keep.name)
        tool("cmake", "--install", BUILD, "--prefix", cls.prefix)
        cls.lib = next(cls.prefix.glob("**/libcaber.so")).parent

    @classmethod
    def tearDownClass(cls):
        cls.keep.cleanup()
        super().tearDownClass()

    def check_program(self, program):
        """The ten-line example must say what the program says."""
        env = dict(os.environ, LD_LIBRARY_PATH=str(self.lib))
        speed = float(self.good("swing", SETUP, "--get", "head_speed_mps"))
        self.assertTrue(tool(program, SETUP, env=env).startswith("%.2f m/s" % speed))

    def test_files(self):
        for name in ("bin/caber", "include/caber.h", "share/caber/models/setups/neutral-smooth.yaml",
                     "share/caber/models/readings/neutral-spans.csv",
                     "share/bash-completion/completions/caber", "share/man/man1/caber.1",
                     "share/man/man1/caber-profile.1", "share/man/man1/caber-swing.1", "share/man/man1/caber-bench.1",
                     "share/man/man1/caber-fields.1", "share/man/man5/caber-files.5",
                     "share/doc/caber/README.md", "share/doc/caber/LICENSE",
                     "share/doc/caber/examples/ten-lines.c", "share/doc/caber/examples/study.py",
                     "share/man/man1/caber-table.1"):
            self.assertTrue((self.prefix / name).is_file(), name)
        self.assertTrue((self.lib / "libcaber.a").is_file())

    def test_no_path_of_the_build_is_left(self):
        for path in [*self.prefix.glob("**/*.cmake"), *self.prefix.glob("**/*.pc")]:
            text = path.read_text(encoding="utf-8")
            self.assertNotIn(str(SOURCE), text, path.name)
            self.assertNotIn(str(BUILD), text, path.name)

    def test_the_installed_program(self):
        setup = self.prefix / "share/caber/models/setups/neutral-smooth.yaml"
        out = tool(self.prefix / "bin/caber", "swing", setup, "--get", "head_speed_mps")
        self.assertEqual(out, self.good("swing", SETUP, "--get", "head_speed_mps"))

    def test_pkg_config(self):
        env = dict(os.environ, PKG_CONFIG_PATH=str(self.lib / "pkgconfig"))
        flags = tool("pkg-config", "--cflags", "--libs", "caber", env=env).split()
        program = self.dir / "ten-lines"
        tool("cc", "-o", program, SOURCE / "examples/ten-lines.c", *flags)
        self.check_program(program)
        version = tool("pkg-config", "--modversion", "caber", env=env).strip()
        self.assertEqual(self.good("--version"), "caber %s\n" % version)

    def test_find_package(self):
        for kind in ("shared", "static"):
            build = self.dir / kind
            tool("cmake", "-S", HERE / "consumer", "-B", build, "-DCMAKE_PREFIX_PATH=%s" % self.prefix,
                 "-DEXAMPLE=%s" % (SOURCE / "examples/ten-lines.c"), "-DKIND=" + kind)
            tool("cmake", "--build", build)
            self.check_program(build / "ten-lines")

    def test_exported_symbols(self):
        out = tool(SOURCE / "scripts/symbols", self.lib / "libcaber.so")
        self.assertIn("all of them caber_", out)

    def test_the_symbol_check_can_fail(self):
        source = self.dir / "stranger.c"
        source.write_text("int caber_fine(void) { return 0; }\nint stranger(void) { return 0; }\n")
        library = self.dir / "stranger.so"
        tool("cc", "-shared", "-fPIC", "-o", library, source)
        done = subprocess.run([SOURCE / "scripts/symbols", library], text=True, check=False,
                              capture_output=True)
        self.assertEqual(done.returncode, 1)
        self.assertIn("stranger", done.stderr)


if __name__ == "__main__":
    main()
