# SPDX-License-Identifier: GPL-3.0-or-later
"""Help, version and wrong usage."""
from harness import MODELS, Case, READINGS, SETUP, main, run, some

COMMANDS = ("profile", "swing", "bench", "scatter", "compare", "shots", "sweep", "gather", "table",
            "influence", "report", "serve", "fields")
STUDY = str(MODELS / "studies/tip-and-rise.yaml")


class Help(Case):
    def test_help_of_the_program(self):
        text = self.good("--help")
        self.golden("help.txt", text)
        self.assertEqual(text, self.good("help"))

    def test_help_of_the_commands(self):
        for command in COMMANDS:
            text = self.good(command, "--help")
            self.golden("help-%s.txt" % command, text)
            self.assertEqual(text, self.good("help", command))
            self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_version(self):
        self.assertRegex(self.good("--version"), r"\Acaber \d+\.\d+\.\d+\n\Z")


class Usage(Case):
    def test_wrong_usage(self):
        for words in some(([], ["no-such-command"], ["--no-such-option"], ["--version", "x"],
                      ["help", "no-such-command"], ["help", "swing", "bench"],
                      ["swing"], ["bench"], ["swing", SETUP, SETUP], ["swing", SETUP, "--bogus"],
                      ["swing", SETUP, "-x"], ["swing", SETUP, "--json=3"],
                      ["swing", SETUP, "--set"], ["swing", SETUP, "--set", "name"],
                      ["swing", SETUP, "--set", "=3"], ["swing", SETUP, "--series", "x.txt"],
                      ["swing", SETUP, "--series", ".csv"], ["swing", SETUP, "--clamp", "5in"],
                      ["swing", SETUP, "--get", "no_such_value"], ["swing", SETUP, "--get", ""],
                      ["swing", SETUP, "--get", "straight.droop_mm"],
                      ["swing", SETUP, "--get", "droop_mm", "--json"],
                      ["swing", SETUP, "--parts", "4"],
                      ["swing", SETUP, "--sensitivity", "--get", "droop_mm"],
                      ["swing", SETUP, "--sensitivity", "--series", "a.csv"],
                      ["profile"], ["profile", READINGS, READINGS],
                      ["profile", READINGS, "--get", "ei_nm2"],
                      ["profile", READINGS, "--without", "a.csv"],
                      ["profile", READINGS, "--without", "a.csv:"],
                      ["profile", READINGS, "--without", "a.csv:0"],
                      ["profile", READINGS, "--without", "a.csv:3x"],
                      ["profile", READINGS, "--without", "a.csv:-3"],
                      ["profile", READINGS, "--without", ":3"],
                      ["profile", READINGS, "--without", "a.csv:3,"],
                      ["profile", READINGS, "--without", "a" * 200 + ".csv:3"],
                      ["profile", READINGS, "--without", "a.csv:99999999999999999999"],
                      ["profile", READINGS, "--output", "shaft.csv"],
                      ["profile", READINGS, "--output", ".yaml"],
                      ["profile", READINGS, "--output", READINGS],
                      ["profile", READINGS, "--plot", "plot.pdf"],
                      ["bench", SETUP, "--get", "droop_mm"], ["bench", SETUP, "--series", "a.csv"],
                      ["sweep"], ["sweep", STUDY, STUDY], ["sweep", STUDY, "--output", "a.csv"],
                      ["sweep", STUDY, "--output", ".h5"], ["sweep", STUDY, "--shard", "3"],
                      ["sweep", STUDY, "--shard", "0/3"], ["sweep", STUDY, "--shard", "4/3"],
                      ["sweep", STUDY, "--shard", "1/3x"], ["sweep", STUDY, "--shard", "-1/3"],
                      ["sweep", STUDY, "--shard", "1/99999999999999999999"],
                      ["sweep", STUDY, "--resume", "--replace"],
                      ["sweep", STUDY, "--plan", "--resume"],
                      ["sweep", STUDY, "--plan", "--replace"],
                      ["gather"], ["gather", "a.h5"], ["gather", STUDY, "a.h5"],
                      ["gather", "a.h5", "b.h5", "--output", "c.h5"],
                      ["report"], ["report", *[SETUP] * 5], ["report", SETUP, "--output", "a.htm"],
                      ["report", SETUP, "--json", "--replace"], ["report", SETUP, "--units", "inch"],
                      ["report", SETUP, "--json", "--output", "a.html"], ["report", SETUP, "--question", " "],
                      ["report", SETUP, "--keep", "speed", "--json"],
                      ["fields", "no-such-kind"], ["fields", "--man", "impact"],
                      ["fields", "files", "--json"])):
            message = self.bad(2, *words)
            self.assertRegex(message, r"; try 'caber (\w+ )?--help'\n\Z")
            self.assertEqual(message.count("\n"), 1)

    def test_the_offending_word_is_named(self):
        for words, word in ((["swing", SETUP, "--bogus"], "'--bogus'"),
                            (["swing", "-q", SETUP], "'-q'"), (["swig", SETUP], "'swig'"),
                            (["swing", SETUP, "--get", "lofty"], "'lofty'")):
            self.assertIn(word, self.bad(2, *words))

    def test_nothing_is_read_when_usage_is_wrong(self):
        status, _, err = run("swing", "/no/such/file.yaml", "--get", "no_such_value")
        self.assertEqual(status, 2)
        self.assertNotIn("file.yaml", err)


if __name__ == "__main__":
    main()
