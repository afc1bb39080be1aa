# SPDX-License-Identifier: GPL-3.0-or-later
"""Everything public is documented: symbols, options, names of outputs, examples."""
import json
import os
import re
import subprocess
import unittest

from harness import BUILD, CABER, Case, SLOW, SOURCE, main

COMMANDS = ("profile", "swing", "bench", "scatter", "compare", "shots", "sweep", "gather", "table",
            "influence", "report", "serve", "fields")


def page(name):
    """A manual page as it is built, without its escapes."""
    text = (BUILD / "man" / name).read_text(encoding="utf-8")
    return re.sub(r"\\f.|\\&|\\", "", text)


class Header(Case):
    def test_every_symbol_has_a_comment(self):
        text = (SOURCE / "include/caber.h").read_text(encoding="utf-8")
        functions = 0
        for block in re.split(r"\n[ \t]*\n", text):
            names = re.findall(r"CABER_API [\w \t*]*?\b(caber_\w+)\(", block)
            functions += len(names)
            if names:
                first = min(block.index(name + "(") for name in names)
                self.assertIn("/*", block[:first], "no comment above %s" % names[0])
        self.assertGreater(functions, 15)

    def test_every_struct_is_explained(self):
        text = (SOURCE / "include/caber.h").read_text(encoding="utf-8")
        for found in re.finditer(r"typedef (?:struct|enum) (caber_\w+) \{\n(.*?)\n\}", text, re.S):
            before = text[:found.start()].rstrip()
            self.assertTrue(before.endswith("*/") or "/*" in found[2]
                            or before.endswith(";") or "#define" in found[2], found[1])

    def test_it_stands_alone(self):
        for name, compiler in (("a.c", ["cc", "-std=c17"]), ("a.cc", ["c++", "-std=c++17"])):
            path = self.dir / name
            path.write_text("#include <caber.h>\nint main() { return 0; }\n")
            subprocess.run([*compiler, "-Wall", "-Wextra", "-Wpedantic", "-Werror", "-fsyntax-only",
                            "-I", SOURCE / "include", path], check=True)


class Pages(Case):
    def test_every_option_is_in_the_manual_and_in_the_completion(self):
        completion = (SOURCE / "src/app/completion/caber").read_text(encoding="utf-8")
        for command in COMMANDS:
            options = re.findall(r"^  (--[a-z-]+)", self.good(command, "--help"), re.M)
            manual = page("caber-%s.1" % command)
            self.assertGreater(len(options), 2)
            for option in options:
                self.assertRegex(manual, re.escape(option) + r"\b(?!-)", command)
                self.assertRegex(completion, re.escape(option) + r"\b(?!-)", command)
            described = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", manual))
            self.assertEqual(described - set(options) - {"--version"} - self.others(command), set())

    @staticmethod
    def others(command):
        """Options of another command that a page may name."""
        return {"fields": {"--series"}, "gather": {"--shard"},
                "report": {"--trim-table", "--uncertainty"}}.get(command, set())

    def test_every_output_is_in_the_manual(self):
        manual = page("caber-files.5")
        for rows in json.loads(self.good("fields", "--json")).values():
            for row in rows:
                self.assertIn(row["name"], manual)
                self.assertIn(row["meaning"].split(",")[0], manual)

    def test_every_key_is_in_the_manual(self):
        manual = page("caber-files.5")
        for key in re.findall(r"^\s+([a-z][a-z_.]+)  ", self.good("fields", "files"), re.M):
            self.assertIn(key, manual)

    def test_the_pages_are_well_formed(self):
        for name in ("caber.1", "caber-profile.1", "caber-swing.1", "caber-bench.1",
                     "caber-scatter.1", "caber-compare.1", "caber-shots.1", "caber-sweep.1",
                     "caber-gather.1", "caber-table.1", "caber-influence.1", "caber-report.1", "caber-serve.1", "caber-fields.1", "caber-files.5"):
            text = (BUILD / "man" / name).read_text(encoding="utf-8")
            self.assertRegex(text, r'\.TH "%s" "%s"' % tuple(name.rsplit(".", 1)))
            self.assertIn('.SH "NAME"' if '.SH "NAME"' in text else ".SH NAME", text)

    def test_the_readme_names_every_command_and_script(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        for command in COMMANDS:
            self.assertIn("caber " + command, readme)
        for script in ("scripts/demo", "scripts/check"):
            self.assertIn(script, readme)
        for link in re.findall(r"\]\(([^)#:]+)\)", readme):
            self.assertTrue((SOURCE / link).exists(), link)

    def test_the_readme_shows_a_profile_as_it_is_printed(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        printed = self.good("profile", SOURCE / "models/readings/neutral.yaml").split("\n\n")
        for title in ("Profile;", "Further off"):
            shown = re.search(r"^```\n(%s.*?)^```$" % title, readme, re.S | re.M)[1]
            part = next(p for p in printed if p.startswith(title)).split("\n")
            self.alike("\n".join(part[:shown.count("\n")]) + "\n", shown)

    @unittest.skipIf(SLOW, "a hundred swings as in others")
    def test_the_readme_shows_what_is_printed(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        blocks = re.findall(r"^```\w*\n(.*?)^```$", readme, re.S | re.M)
        setup = str(SOURCE / "models/setups/neutral-smooth.yaml")
        path = dict(os.environ, PATH="%s:%s" % (os.path.dirname(CABER), os.environ["PATH"]))
        swing = self.good("swing", setup)
        walks = [subprocess.run([SOURCE / "examples" / name, setup], check=True, env=path,
                                stdout=subprocess.PIPE, text=True).stdout
                 for name in ("firm-tip.sh", "quick-transition.sh")]
        self.alike(swing, next(b for b in blocks if b.startswith("Neutral, smooth")))
        self.alike("\n".join(walks), next(b for b in blocks if b.startswith("tip ")))
        # Of the sensitivities, from the heads of the columns to the end of the first table.
        shown = next(b for b in blocks if re.match(r" +loft +face ", b))
        printed = self.good("swing", setup, "--sensitivity")
        self.alike(printed[re.search(r"^ +loft +face ", printed, re.M).start():]
                   .split("\n\n10 % more GJ")[0] + "\n", shown)

    @unittest.skipIf(SLOW, "a hundred swings as in others")
    def test_the_readme_shows_how_sure_a_figure_is(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        shown = re.search(r"^```\n( +the club +straight\n\nDelivery\n.*?\+-.*?)^```$", readme, re.S | re.M)[1]
        shaft = self.dir / "measured.yaml"
        self.good("profile", SOURCE / "models/readings/neutral.yaml", "--without", "neutral-spans.csv:44",
                  "--output", shaft)
        printed = self.good("swing", SOURCE / "models/setups/neutral-quick.yaml", "--set", "shaft=%s" % shaft,
                            "--uncertainty")
        part = printed[printed.index(shown.split("\n")[0]):].split("\n")
        self.alike("\n".join(part[:shown.count("\n")]) + "\n", shown)

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_the_readme_shows_scatter_and_compare_as_they_print(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        soft, neutral, firm = (SOURCE / "models/setups" / ("%s-smooth.yaml" % name)
                               for name in ("soft-tip", "neutral", "firm-tip"))
        for words, titles in ((("scatter", soft, firm), ("Which is the more consistent", "What makes it vary")),
                              (("compare", neutral, firm), ("In short",))):
            printed = self.good(*words)
            for title in titles:
                shown = re.search(r"^```\n(%s.*?)^```$" % title, readme, re.S | re.M)[1]
                part = printed[printed.index("\n" + title) + 1:].split("\n")
                self.alike("\n".join(part[:shown.count("\n")]) + "\n", shown)

    @unittest.skipIf(SLOW, "a whole study")
    def test_the_readme_shows_a_table_of_a_study(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        shown = re.search(r"^```\n( +rise +cases .*?)^```$", readme, re.S | re.M)[1]
        path = self.dir / "tip-and-rise.h5"
        self.good("sweep", SOURCE / "models/studies/tip-and-rise.yaml", "--output", path)
        printed = self.good("table", path, "--by", "rise", "--only",
                            "delivered_loft_deg,lead_deflection_mm,carry_m")
        self.alike(printed.split("\n\n", 1)[1], shown)

    def test_every_example_has_its_page(self):
        for path in sorted(p for p in (SOURCE / "examples").iterdir() if p.suffix in (".c", ".sh", ".py")):
            head = path.read_text(encoding="utf-8")[:1500]
            self.assertIn(path.stem, head, path.name)
            self.assertIn("models/setups/", head, path.name)


class Completion(Case):
    def complete(self, *words, cwd=SOURCE / "models/setups"):
        """What bash would offer for the last word."""
        script = """source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _caber
                    printf '%s\\n' "${COMPREPLY[@]}" """
        done = subprocess.run(["bash", "-c", script, "bash", SOURCE / "src/app/completion/caber",
                               "caber", *words], text=True, capture_output=True, check=True,
                              cwd=cwd, env=dict(os.environ))
        self.assertEqual(done.stderr, "")
        return done.stdout.split()

    def test_commands(self):
        self.assertEqual(self.complete("swi"), ["swing"])
        self.assertEqual(self.complete("help", ""), list(COMMANDS))
        text = self.good("help")
        for word in self.complete(""):
            self.assertRegex(text, r"(?m)^  %s\b" % re.escape(word))

    def test_options(self):
        for command in COMMANDS:
            options = re.findall(r"^  (--[a-z-]+)", self.good(command, "--help"), re.M)
            self.assertEqual(sorted(self.complete(command, "--")), sorted(options))

    def test_setups(self):
        self.assertIn("neutral-smooth.yaml", self.complete("swing", "neutral-s"))
        self.assertEqual(self.complete("fields", "im"), ["impact"])
        self.assertIn("neutral-smooth.yaml", self.complete("scatter", "neutral-s"))
        self.assertEqual(self.complete("compare", "--keep", "d"), ["delivery"])

    def test_readings(self):
        folder = SOURCE / "models/readings"
        self.assertIn("neutral.yaml", self.complete("profile", "neutral", cwd=folder))
        self.assertNotIn("neutral-spans.csv", self.complete("profile", "neutral", cwd=folder))


if __name__ == "__main__":
    main()
