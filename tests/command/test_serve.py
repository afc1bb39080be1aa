# SPDX-License-Identifier: GPL-3.0-or-later
"""The live page's server, spoken to through sockets: every answer against what the program itself prints,
every refusal, and what a careless or hostile client may do. What HTTP wants is from RFC 9110 and 9112, of
events the WHATWG's standard of server-sent events (both from memory)."""
import concurrent.futures
import csv
import http.client
import json
import math
import os
import pathlib
import re
import resource
import signal
import socket
import subprocess
import sys
import tempfile
import time
import unittest

from harness import CABER, MODELS, SLOW, SOURCE, Case, main, run

sys.path.append(str(SOURCE / "tests/page"))
import abuse  # noqa: E402
import served  # noqa: E402

JSON = {"Content-Type": "application/json"}
YAML = {"Content-Type": "application/yaml"}
SMOOTH = {"file": "neutral-smooth.yaml"}
FIRM = {"file": "firm-tip-smooth.yaml"}
SETUPS = [str(MODELS / "setups" / name["file"]) for name in (SMOOTH, FIRM)]


def drip(server):
    """Two clients that send a byte now and then: seconds until each is sent away, counted from the request."""
    links = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(2)]
    links[0].sendall(b"POST /api/v1/swing HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/json\r\n"
                     b"Content-Length: 100\r\n\r\n" % server.port)
    links[1].sendall(b"PUT /api/v1/files/user/setup/a.yaml HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n"
                     b"Content-Type: application/yaml\r\nTransfer-Encoding: chunked\r\n\r\n" % server.port)
    began, ended = time.monotonic(), [None, None]
    while None in ended and time.monotonic() - began < 60:
        for i, link in enumerate(links):
            link.settimeout(0.4)
            try:
                if ended[i] is None:
                    link.sendall((b" ", b"1\r\n \r\n")[i])
                    if link.recv(100) == b"":
                        ended[i] = time.monotonic() - began
            except socket.timeout:
                pass
            except OSError:
                ended[i] = time.monotonic() - began
    for link in links:
        link.close()
    server.stop()
    return ended


def siege():
    """Two seconds of every kind of bad client, and SIGTERM in the middle of them: what was wrong."""
    with tempfile.TemporaryDirectory() as folder:
        return abuse.ended(served.Server(CABER, "--threads", "2", folder=folder))[1]


class Server:
    """A server of its own; `folder` is the user's."""

    def __init__(self, *words, folder=None):
        self.process = subprocess.Popen(
            [CABER, "serve", "--models", str(MODELS), "--threads", "2",
             *(["--folder", str(folder)] if folder else []), *words],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.address = self.process.stdout.readline()
        self.port = int(re.fullmatch(r"http://127\.0\.0\.1:(\d+)/\n", self.address)[1])

    def ask(self, method, path, body=None, headers=None):
        """Returns (status, headers, body as bytes)."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            link.request(method, path, body, headers or {})
            answer = link.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            link.close()

    def post(self, path, body):
        status, _, text = self.ask("POST", "/api/v1/" + path, json.dumps(body), JSON)
        return status, json.loads(text)

    def get(self, path):
        status, _, text = self.ask("GET", "/api/v1/" + path)
        return status, json.loads(text)

    def raw(self, data, wait=20):
        """What comes back for bytes, until the server closes."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait) as link:
            try:
                link.sendall(data)
                link.shutdown(socket.SHUT_WR)
            except OSError:
                pass  # it has refused already
            return read_all(link)

    def memory(self):
        """kB that are resident."""
        text = pathlib.Path("/proc/%d/status" % self.process.pid).read_text()
        return int(re.search(r"VmRSS:\s+(\d+)", text)[1])

    def stop(self, how=signal.SIGTERM):
        """Returns (status, what it said on standard error)."""
        self.process.send_signal(how)
        said = self.process.communicate(timeout=60)[1]
        return self.process.returncode, said


def read_all(link):
    data = b""
    try:
        while piece := link.recv(65536):
            data += piece
    except (ConnectionResetError, socket.timeout):
        pass
    return data


def printed(*words):
    status, out, err = run(*words, "--json")
    assert status == 0, err
    return json.loads(out)


class Served(Case):
    """Tests that share a server."""

    @classmethod
    def setUpClass(cls):
        cls.folder = pathlib.Path(os.path.realpath(subprocess.check_output(
            ["mktemp", "-d", "-t", "caber-page-XXXXXX"], text=True).strip()))
        cls.server = Server(folder=cls.folder)

    @classmethod
    def tearDownClass(cls):
        ended = cls.server.stop()
        subprocess.run(["rm", "-r", str(cls.folder)], check=True)
        assert ended == (0, ""), ended

    def result(self, path, body):
        status, answer = self.server.post(path, body)
        self.assertEqual(status, 200, answer)
        self.assertEqual(list(answer), ["result", "notes", "cautions"])
        return answer["result"]

    def wrong(self, status, path, body, field=None, text="."):
        got, answer = self.server.post(path, body)
        self.assertEqual(got, status, answer)
        self.assertEqual(set(answer["error"]), {"message", "file", "line", "column", "field"})
        self.assertEqual(answer["error"]["field"], field, answer)
        self.assertRegex(answer["error"]["message"], text)
        self.assertNotIn(str(SOURCE), answer["error"]["message"])
        return answer["error"]


class Answers(Served):
    def test_a_swing_is_what_the_program_prints(self):
        self.assertEqual(self.result("swing", {"setup": SMOOTH}), printed("swing", SETUPS[0]))
        changed = {**SMOOTH, "set": {"load.grip.rise": "0.06 s", "build.tip_trim": 0.02,
                                     "settings.gravity": False}}
        want = printed("swing", SETUPS[0], "--set", "load.grip.rise=0.06 s", "--set", "build.tip_trim=0.02",
                       "--set", "settings.gravity=no")
        self.assertEqual(self.result("swing", {"setup": changed}), want)
        self.assertNotEqual(want, printed("swing", SETUPS[0]))

    def test_a_part_is_chosen_by_its_name(self):
        parts = {**SMOOTH, "parts": {"shaft": {"file": "firm-tip.yaml"}}}
        self.assertEqual(self.result("swing", {"setup": parts})["impact"],
                         printed("swing", SETUPS[0], "--set", "shaft=%s" % (MODELS / "shafts/firm-tip.yaml"))["impact"])

    def test_several_swings_are_those_of_each(self):
        self.assertEqual(self.result("swings", {"setups": [SMOOTH, FIRM]}),
                         [printed("swing", path) for path in SETUPS])

    def test_what_the_command_says_beside_a_result_is_a_note(self):
        until = {**SMOOTH, "set": {"settings.until": "0.1 s"}}
        status, answer = self.server.post("swing", {"setup": until})
        said = run("swing", SETUPS[0], "--set", "settings.until=0.1 s")[2]
        self.assertEqual((status, ["caber: %s\n" % note for note in answer["notes"]]), (200, [said]))

    @unittest.skipIf(SLOW, "what is computed here, others compute")
    def test_every_caution_of_a_table_is_in_the_answer(self):
        for words, path, body in ((["swing", SETUPS[0]], "swing", {"setup": SMOOTH}),
                                  (["bench", SETUPS[0]], "bench", {"setup": SMOOTH}),
                                  (["bench", SETUPS[0], "--trim-table"], "trims", {"setup": SMOOTH}),
                                  (["profile", MODELS / "readings/neutral.yaml"], "profile",
                                   {"readings": {"file": "neutral.yaml"}})):
            table = " ".join(self.good(*words).split())
            cautions = self.server.post(path, body)[1]["cautions"]
            self.assertGreater(len(cautions), 0)
            for caution in cautions:
                self.assertIn(" ".join(caution.split()), table)
            for word in ("danger", "certificate", "springs back", "ruling;"):
                self.assertEqual(word in table, any(word in c for c in cautions), (path, word))

    def test_the_bench_is_what_the_program_prints(self):
        self.assertEqual(self.result("bench", {"setup": SMOOTH}), printed("bench", SETUPS[0]))
        jig = {"clamp": ["5 in", "7 in"], "tip_mass": "180 g", "torque": 1.5, "modes": 3}
        self.assertEqual(self.result("bench", {"setup": SMOOTH, **jig}),
                         printed("bench", SETUPS[0], "--clamp", "5 in,7 in", "--tip-mass", "180 g", "--torque",
                                 "1.5", "--modes", "3"))
        if not SLOW:
            self.assertEqual(self.result("trims", {"setup": SMOOTH}), printed("bench", SETUPS[0], "--trim-table"))

    def test_a_profile_is_what_the_program_prints(self):
        readings = MODELS / "readings/neutral.yaml"
        self.assertEqual(self.result("profile", {"readings": {"file": "neutral.yaml"}}), printed("profile", readings))
        self.assertEqual(self.result("profile", {"readings": {"file": "neutral.yaml"},
                                                 "without": [{"file": "neutral-spans.csv", "line": 44}]}),
                         printed("profile", readings, "--without", "neutral-spans.csv:44"))

    def test_a_series_is_what_the_program_writes(self):
        path = self.dir / "series.csv"
        self.good("swing", SETUPS[0], "--series", path)
        with open(path, newline="", encoding="utf-8") as file:
            names, _, *rows = csv.reader(file)
        got = self.result("series", {"setup": SMOOTH})
        fields = self.server.get("fields")[1]["result"]["series"]
        self.assertEqual(list(got["columns"]), [field["name"] for field in fields])
        for at, name in enumerate(names):
            want = [float(row[at]) if row[at] else None for row in rows]
            what, _, place = name.partition("@")
            column = got["columns"].get(name)
            if place:
                where = [abs(p - float(place)) < 6e-5 for p in got["places_m"]].index(True)
                column = [row[where] for row in got[what]]
            self.assertEqual(len(column), len(want))
            for one, other in zip(column, want):
                self.assertTrue(one == other or abs(one - other) <= 1e-9 * abs(other), name)
        # The cubic through the last four places of the shape ends where the columns have the tip.
        last = got["places_m"][-4:]
        weights = [math.prod(b / (b - a) for b in last if b != a) for a in last]  # Lagrange's, at 0
        for name, column in (("trail_mm", "lag_mm"), ("out_of_plane_mm", "out_of_plane_mm")):
            self.assertEqual([len(row) for row in got[name]], [len(got["places_m"])] * len(rows))
            for row, tip in zip(got[name], got["columns"][column]):
                self.assertAlmostEqual(sum(w * v for w, v in zip(weights, row[-4:])), tip, delta=0.02)

    def test_inputs_read_back_to_the_same_swing(self):
        got = self.result("inputs", {"setup": {**SMOOTH, "set": {"shaft.sections[0].from": "20 mm",
                                                                 "shaft.sections[0].to": "200 mm",
                                                                 "shaft.sections[0].ei_scale": 1.2}}})
        inputs = {row["path"]: row for row in got["inputs"]}
        self.assertEqual((inputs["build.tip_trim"]["value"], inputs["build.tip_trim"]["unit"]), (12.0, "mm"))
        self.assertEqual(inputs["shaft.sections[0].ei_scale"]["value"], 1.2)
        self.assertEqual(inputs["player.load.grip.drive"]["words"], ["torque", "motion", "locked"])
        reference = self.good("fields", "files")
        for path in inputs:
            self.assertIn(re.sub(r"\[\d+\]", "[]", path).split(".")[-1], reference)
        want = self.result("swing", {"setup": {**SMOOTH, "set": {"shaft.sections[0].from": "20 mm",
                                                                 "shaft.sections[0].to": "200 mm",
                                                                 "shaft.sections[0].ei_scale": 1.2}}})
        self.assertEqual(self.result("swing", {"setup": {"text": got["text"]}}), want)

    def test_a_shaft_has_the_bands_of_its_profile(self):
        shaft = self.folder / "measured.yaml"
        self.good("profile", MODELS / "readings/neutral.yaml", "--output", shaft)
        bands = printed("profile", MODELS / "readings/neutral.yaml")["stations"]
        got = self.result("shaft", {"setup": {**SMOOTH, "parts": {"shaft": {"folder": "user", "file": "measured.yaml"}}}})
        self.assertTrue(got["errors_known"])
        for station, band in zip(got["stations"], bands):
            for key in ("at_m", "ei_nm2", "gj_nm2", "mass_kg_m"):
                self.assertEqual(station[key], band[key])
            for key in ("ei_sd_percent", "gj_sd_percent", "mass_sd_percent"):
                # The fit gives its bands from the whole covariance; the file keeps the larger components.
                self.assertLess(abs(station[key] - band[key]), 0.02 * band[key], key)
        plain = self.result("shaft", {"setup": {**SMOOTH, "set": {
            "shaft.sections[0].from": "100 mm", "shaft.sections[0].to": "300 mm", "shaft.sections[0].ei_scale": 2}}})
        self.assertFalse(plain["errors_known"])
        curve = plain["curve"]
        first = dict(zip(curve["at_m"], curve["ei_nm2"]))
        station = next(s for s in plain["stations"] if 0.1 < s["at_m"] < 0.3)
        near = min(first, key=lambda at: abs(at - station["at_m"]))
        self.assertLess(abs(first[near] / station["ei_nm2"] - 2), 0.2)

    def test_the_load_is_the_program_of_the_manual(self):
        got = self.result("load", {"setup": SMOOTH})
        load = {row["path"].split("load.")[1]: row["value"] for row in got["inputs"] if "load." in row["path"]}

        def smooth(x):  # the quintic smoothstep that caber.h states
            x = min(max(x, 0), 1)
            return x ** 3 * (10 + x * (6 * x - 15))
        for t, value in zip(got["time_s"], got["curves"]["grip"]["value"]):
            want = (load["grip.peak"] * smooth((t - load["grip.onset"]) / load["grip.rise"]) *
                    (1 - smooth((t - load["grip.release"]) / load["grip.fall"])) +
                    load["grip.late"] * smooth((t - load["grip.late_onset"]) / load["grip.late_rise"]))
            self.assertAlmostEqual(value, want, places=9)
        self.assertEqual(got["curves"]["grip"]["unit"], "N m")

    def test_the_interface_describes_what_there_is(self):
        status, about = self.server.get("")
        self.assertEqual(status, 404)
        status, _, text = self.server.ask("GET", "/api/v1")
        about = json.loads(text)
        self.assertEqual((status, about["interface"]), (200, 1))
        for route in about["routes"]:
            self.assertTrue(route["path"].startswith("/api/v1"))
            path = route["path"].replace("{folder}", "models").replace("{kind}", "setup")
            path = path.replace("{file}", "neutral-smooth.yaml").replace("{job}", "99999")
            headers = {} if route["body"] is None else YAML if route["method"] == "PUT" else JSON
            body = None if route["body"] is None else "{}"
            got = self.server.ask(route["method"], path, body, headers)[0]
            self.assertIn(got, (200, 422) if "99999" not in path else (404,), path)
            # A key that must be there is missed by its name.
            needed = [key["key"] for key in route["body"] or [] if key["required"] and key["key"]]
            if needed and "99999" not in path:
                answer = json.loads(self.server.ask(route["method"], path, body, headers)[2])
                self.assertIn(answer["error"]["field"], needed)
        self.assertEqual({row["name"] for row in self.server.get("fields")[1]["result"]["shot"]},
                         {row["name"] for row in json.loads(self.good("fields", "shot", "--json"))["shot"]})
        units = {row["unit"]: row for row in self.server.get("units")[1]["result"]}
        # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
        self.assertEqual(units["in"]["times"] / units["in"]["over"], 0.0254)


class Files(Served):
    def put(self, name, text):
        status, _, answer = self.server.ask("PUT", "/api/v1/files/user/setup/" + name, text, YAML)
        return status, json.loads(answer)

    def whole(self):
        return self.result("inputs", {"setup": SMOOTH})["text"]

    def test_the_files_are_listed(self):
        got = self.server.get("files")[1]["result"]
        files = {(row["folder"], row["kind"], row["file"]) for row in got["files"]}
        for folder, kind in (("setups", "setup"), ("shafts", "shaft"), ("players", "player"), ("readings", "readings")):
            for path in (MODELS / folder).glob("*.yaml"):
                self.assertIn(("models", kind, path.name), files)
        status, answer = self.server.get("files/models/shaft/neutral.yaml")
        self.assertEqual((status, answer["result"]["text"]),
                         (200, (MODELS / "shafts/neutral.yaml").read_text(encoding="utf-8")))

    def test_a_setup_is_kept_and_swung(self):
        text = self.whole()
        self.assertEqual(self.put("mine.yaml", text)[0], 201)
        self.assertEqual(self.put("mine.yaml", text)[0], 200)
        self.assertEqual((self.folder / "mine.yaml").read_text(encoding="utf-8"), text)
        mine = {"folder": "user", "file": "mine.yaml"}
        self.assertEqual(self.result("swing", {"setup": mine})["impact"],
                         self.result("swing", {"setup": SMOOTH})["impact"])
        status, answer = self.put("mine.yaml", text.replace("mass:", "masss:", 1))
        self.assertEqual((status, answer["error"]["file"]), (422, "user/mine.yaml"))
        self.assertGreater(answer["error"]["line"], 0)
        self.assertEqual((self.folder / "mine.yaml").read_text(encoding="utf-8"), text)
        self.assertEqual([p for p in os.listdir(self.folder) if "part" in p], [])

    def test_no_name_leads_elsewhere(self):
        names = ["..", "../mine.yaml", "%2e%2e/mine.yaml", "..%2fmine.yaml", "%2fetc%2fpasswd", ".hidden.yaml",
                 "a.txt", "a%00.yaml", "a%0a.yaml", "a" * 200 + ".yaml", "sub/a.yaml", "a%5cb.yaml", "%ff.yaml"]
        before = sorted(os.listdir(self.folder))
        for name in names:
            self.assertIn(self.put(name, self.whole())[0], (404, 405, 422), name)
            status, _, text = self.server.ask("GET", "/api/v1/files/models/setup/" + name)
            self.assertEqual(status, 404, name)
            self.assertNotIn(b"root:", text)
        self.assertEqual(sorted(os.listdir(self.folder)), before)
        for setup in ({"file": "../setups/neutral-smooth.yaml"}, {"file": str(MODELS / "setups/neutral-smooth.yaml")},
                      {"file": "/etc/passwd"}, {"file": "a\nb.yaml"}, {"file": ".."}, {"file": ""}, {"file": 3}):
            self.wrong(422, "swing", {"setup": setup}, "setup.file")
        for folder in ("..", "/", "", "Models", 3, "models/setups"):
            self.wrong(422, "swing", {"setup": {"folder": folder, **SMOOTH}}, "setup.folder")

    def test_no_file_refers_elsewhere(self):
        outside = self.dir / "outside.yaml"
        outside.write_text((MODELS / "shafts/neutral.yaml").read_text(encoding="utf-8"), encoding="utf-8")
        inside = self.folder / "shaft.yaml"
        inside.write_text(outside.read_text(encoding="utf-8"), encoding="utf-8")
        for name, target in (("link.yaml", outside), ("pipe.yaml", None), ("huge.yaml", None), ("loop.yaml", "loop.yaml")):
            path = self.folder / name
            if name == "pipe.yaml":
                os.mkfifo(path)
            elif name == "huge.yaml":
                path.touch()
                os.truncate(path, 1 << 33)
            else:
                path.symlink_to(target)
            self.addCleanup(path.unlink)
        (self.folder / "down").symlink_to(MODELS / "shafts")
        self.addCleanup((self.folder / "down").unlink)
        text = (MODELS / "setups/neutral-smooth.yaml").read_text(encoding="utf-8")
        text = re.sub(r"\.\./(?!shafts)(\w+)/", lambda m: "%s/%s/" % (MODELS, m[1]), text)

        def setup(shaft):
            return {"folder": "user", "text": text.replace("../shafts/neutral.yaml", shaft)}
        # What may be read, so that the refusals below are of the shaft.
        for good in ("shaft.yaml", "./x/../shaft.yaml", str(inside), str(MODELS / "shafts/neutral.yaml")):
            self.result("swing", {"setup": setup(good)})
        for bad in (str(outside), os.path.relpath(outside, self.folder), "link.yaml", "loop.yaml", "down/neutral.yaml",
                    "/etc/passwd", "../../../../../../etc/passwd", "/proc/self/environ", "/dev/zero", "/dev/stdin",
                    str(self.folder) + "/../" + self.folder.name + "x/a.yaml", str(MODELS) + "x/a.yaml"):
            error = self.wrong(422, "swing", {"setup": setup(bad)}, "shaft", "outside the folders")
            self.assertNotIn("root:", error["message"])
        for name, why in (("pipe.yaml", "not an ordinary file"), ("huge.yaml", "bytes; at most"),
                          ("missing.yaml", "no such file"), (".", "outside|directory")):
            self.wrong(422, "swing", {"setup": setup(name)}, "shaft", why)
        for name in ("link.yaml", "pipe.yaml", "huge.yaml", "loop.yaml"):
            self.wrong(422, "swing", {"setup": {"folder": "user", "file": name}}, None)
            if name != "huge.yaml":
                self.assertEqual(self.put(name, self.whole())[0], 422, name)
        self.assertTrue((self.folder / "link.yaml").is_symlink())
        # A table is a file too, and so is a part set by its path.
        for path in ("/etc/passwd", "models/shafts/neutral.yaml"):
            self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"load.grip.table": path}}}, "load.grip.table",
                       "outside")
            self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"shaft": path}}}, "setup.set.shaft", "parts")
            self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"shaft.file": path}}}, "setup.set.shaft.file")
        listed = {row["file"]: row for row in self.server.get("files")[1]["result"]["files"]}
        self.assertIn("problem", listed["link.yaml"])
        self.assertNotIn("problem", listed["shaft.yaml"])

    def test_without_a_folder_nothing_is_kept(self):
        server = Server()
        status, _, answer = server.ask("PUT", "/api/v1/files/user/setup/a.yaml", self.whole(), YAML)
        self.assertEqual((status, json.loads(answer)["error"]["field"]), (404, None))
        self.assertEqual(server.post("swing", {"setup": {"folder": "user", "file": "a.yaml"}})[0], 422)
        self.assertEqual(server.stop(signal.SIGINT), (0, ""))


class Refusals(Served):
    def test_wrong_requests_name_their_field(self):
        self.wrong(422, "swing", {}, "setup", "missing")
        self.wrong(422, "swing", {"setup": []}, "setup", "object")
        self.wrong(422, "swing", {"setup": SMOOTH, "more": 1}, "more", "no such key")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "colour": 1}}, "setup.colour")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "text": "x"}}, "setup.text")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"load.grip.rise": None}}}, "setup.set.load.grip.rise")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"a=b": "1"}}}, "setup.set.a=b")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"load.grip.rise": "0.05 kg"}}}, "load.grip.rise")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"load.grip.rize": "0.05 s"}}}, "load.grip.rize")
        self.wrong(422, "swing", {"setup": {**SMOOTH, "parts": {"ball": {}}}}, "setup.parts.ball")
        self.wrong(422, "swings", {"setups": []}, "setups")
        self.wrong(422, "swings", {"setups": [SMOOTH] * 7}, "setups")
        self.wrong(422, "swings", {"setups": [SMOOTH, {}]}, "setups[1].file")
        self.wrong(422, "bench", {"setup": SMOOTH, "clamp": "5 kg"}, "clamp")
        self.wrong(422, "bench", {"setup": SMOOTH, "clamp": [0.1] * 9}, "clamp")
        self.wrong(422, "bench", {"setup": SMOOTH, "modes": 1.5}, "modes")
        self.wrong(422, "profile", {"readings": {"file": "neutral.yaml"}, "without": [{"file": "a.csv", "line": 1}]},
                   "without")
        self.wrong(422, "jobs", {"run": "sleep", "ask": {}}, "run")
        self.wrong(422, "jobs", {"run": "scatter"}, "ask")
        error = self.wrong(422, "swing", {"setup": {"text": "kind: setup\nname: [\n"}}, None)
        self.assertEqual((error["file"], error["line"] > 1), ("models/setups/setup", True))

    def test_no_setup_lasts_or_grows_without_bounds(self):
        for path, value in (("time_limit", "100 s"), ("until", "100 s"), ("sample", 1e-6), ("tolerance", 1e-12),
                            ("modes", 60), ("stations", 200), ("elements", 2000)):
            given = {"settings." + path: value, "settings.stations": 60} if path != "stations" else {"settings." + path: value}
            self.wrong(422, "series", {"setup": {**SMOOTH, "set": given}}, "settings." + path, "allowed here")

    def test_a_swing_that_cannot_finish_says_why(self):
        error = self.wrong(422, "swing", {"setup": {**SMOOTH, "set": {"settings.time_limit": "0.1 s"}}}, None)
        self.assertIn(error["message"], run("swing", SETUPS[0], "--set", "settings.time_limit=0.1 s")[2])

    def test_malformed_bodies(self):
        for body in ("", "{", "[]", "null", "{\"setup\": \"\\ud800\"}", "{\"a\": 1, \"a\": 2}", "[" * 100000,
                     "{\"setup\": 1e999}", "\x00", "{} {}"):
            status, _, text = self.server.ask("POST", "/api/v1/swing", body.encode(), JSON)
            self.assertEqual(status, 400, body[:20])
            self.assertIn("message", json.loads(text)["error"])
        status, _, _ = self.server.ask("POST", "/api/v1/swing", b"\xff\xfe{", JSON)
        self.assertEqual(status, 400)

    def test_methods_paths_and_types(self):
        for method, path, body, headers, want in (
                ("GET", "/nothing", None, {}, 404), ("GET", "/api/v2/swing", None, {}, 404),
                ("GET", "/api/v1/swing/", None, {}, 404), ("GET", "//api/v1", None, {}, 404),
                ("GET", "/../../etc/passwd", None, {}, 404), ("GET", "/" + "a" * 2000, None, {}, 414),
                ("GET", "/api/v1/swing", None, {}, 405), ("DELETE", "/api/v1/jobs/1", None, {}, 405),
                ("OPTIONS", "/api/v1/swing", None, {}, 405), ("PATCH", "/", None, {}, 405),
                ("POST", "/", "{}", JSON, 405), ("PUT", "/api/v1/files/models/setup/a.yaml", "a", YAML, 405),
                ("POST", "/api/v1/swing", "{}", {}, 415), ("POST", "/api/v1/swing", "{}", YAML, 415),
                ("POST", "/api/v1/swing", "{}", {"Content-Type": "text/plain"}, 415),
                ("POST", "/api/v1/swing", "{}", {"Content-Type": "application/jsonx"}, 415),
                ("POST", "/api/v1/swing", "{}", {**JSON, "Content-Encoding": "gzip"}, 415),
                ("PUT", "/api/v1/files/user/setup/a.yaml", "a", JSON, 415),
                ("GET", "/api/v1", "{}", JSON, 400),
                ("POST", "/api/v1/swing", "{}", {"Content-Type": "application/json; charset=utf-8"}, 422)):
            status, got, text = self.server.ask(method, path, body, headers)
            self.assertEqual(status, want, (method, path, headers))
            self.assertIn("message", json.loads(text)["error"])
            if status == 405:
                self.assertIn("Allow", got)
        status, headers, text = self.server.ask("HEAD", "/api/v1")
        self.assertEqual((status, text), (200, b""))
        self.assertGreater(int(headers["Content-Length"]), 1000)

    def test_other_pages_and_other_hosts(self):
        own = "127.0.0.1:%d" % self.server.port
        for host, want in ((own, 200), ("localhost:%d" % self.server.port, 200), ("LOCALHOST:%d" % self.server.port, 200),
                           ("127.0.0.1", 421), ("evil.example:%d" % self.server.port, 421), (own + ".evil.example", 421),
                           ("127.0.0.1:1", 421), ("", 421), ("127.0.0.1@%s" % own, 421)):
            got = self.server.raw(b"GET / HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n" % host.encode())
            self.assertIn(b" %d " % want, got.split(b"\r\n")[0], host)
        for head in (b"GET / HTTP/1.1\r\n\r\n", b"GET / HTTP/1.0\r\n\r\n",
                     b"GET / HTTP/1.1\r\nHost: %s\r\nHost: evil.example\r\n\r\n" % own.encode()):
            self.assertIn(b" 400 ", self.server.raw(head).split(b"\r\n")[0])
        for name, value, want in (("Origin", "http://" + own, 200), ("Origin", "http://evil.example", 403),
                                  ("Origin", "null", 403), ("Origin", "https://" + own, 403),
                                  ("Origin", "http://%s.evil.example" % own, 403), ("Sec-Fetch-Site", "cross-site", 403),
                                  ("Sec-Fetch-Site", "same-site", 403), ("Sec-Fetch-Site", "same-origin", 200),
                                  ("Sec-Fetch-Site", "none", 200)):
            self.assertEqual(self.server.ask("GET", "/api/v1/units", None, {name: value})[0], want, (name, value))
        self.assertEqual(self.server.ask("GET", "/", None, {"Sec-Fetch-Site": "cross-site"})[0], 200)

    def test_every_answer_is_guarded(self):
        for method, path in (("GET", "/"), ("GET", "/api/v1"), ("GET", "/nothing"), ("POST", "/api/v1/swing")):
            headers = self.server.ask(method, path)[1]
            self.assertIn("default-src 'none'", headers["Content-Security-Policy"])
            self.assertEqual((headers["X-Content-Type-Options"], headers["Referrer-Policy"], headers["Cache-Control"],
                              headers["Access-Control-Allow-Origin"]), ("nosniff", "no-referrer", "no-store", None))

    def test_oversized(self):
        for headers in (JSON, {**JSON, "Transfer-Encoding": "chunked"}):
            big = b"{\"setup\": \"" + b"a" * (3 << 20) + b"\"}"
            try:
                status = self.server.ask("POST", "/api/v1/swing",
                                         iter([big[i:i + 65536] for i in range(0, len(big), 65536)])
                                         if "Transfer-Encoding" in headers else big, headers)[0]
            except (BrokenPipeError, ConnectionResetError):
                status = 413  # the server did not wait for the rest
            self.assertEqual(status, 413)
        head = b"POST /api/v1/swing HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/json\r\n" % self.server.port
        self.assertIn(b" 413 ", self.server.raw(head + b"Content-Length: 99999999999\r\n\r\n").split(b"\r\n")[0])
        self.assertRegex(self.server.raw(head + b"X-A: " + b"a" * 100000 + b"\r\n\r\n")[:40], rb"\A(HTTP/1.1 4\d\d .*)?")
        for bad in (b"Content-Length: -1\r\n\r\n", b"Content-Length: 2x\r\n\r\n{}",
                    b"Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}", b"Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n"):
            got = self.server.raw(head + bad).split(b"\r\n")[0]
            self.assertTrue(got == b"" or b" 400 " in got or b" 413 " in got, (bad, got))
        self.assertEqual(self.server.get("units")[0], 200)

    def test_noise(self):
        for data in (b"", b"\r\n\r\n", b"\x16\x03\x01\x02\x00", b"GET", b"GET / HTTP/9.9\r\n\r\n", b"\x00" * 5000,
                     b"GET / HTTP/1.1\r\nHost\r\n\r\n", b"GET http://127.0.0.1/ HTTP/1.1\r\n\r\n", b"A" * 70000,
                     b"POST /api/v1/swing HTTP/1.1\r\nContent-Length: 5\r\n\r\n{"):
            got = self.server.raw(data, 0.5)
            self.assertTrue(got == b"" or re.match(rb"HTTP/1\.[01] [45]\d\d ", got), (data[:20], got[:60]))
        self.assertEqual(self.server.get("units")[0], 200)


class Jobs(Served):
    def events(self, number):
        status, headers, text = self.server.ask("GET", "/api/v1/jobs/%d/events" % number)
        self.assertEqual((status, headers["Content-Type"]), (200, "text/event-stream"))
        return [(kind, json.loads(data)) for kind, data in
                re.findall(r"^event: (\w+)\ndata: (.*)\n\n", text.decode(), re.M)]

    def job(self, run_name, ask):
        status, answer = self.server.post("jobs", {"run": run_name, "ask": ask})
        self.assertEqual(status, 202, answer)
        return answer["result"]["job"]

    def finish(self, run_name, ask):
        number = self.job(run_name, ask)
        events = self.events(number)
        self.assertEqual((events[-1][0], events[-1][1]["state"]), ("end", "done"), events[-1])
        self.assertEqual([kind for kind, _ in events[:-1]], ["progress"] * (len(events) - 1))
        done = [event["done"] for _, event in events]
        self.assertEqual(done, sorted(done))
        status, answer = self.server.get("jobs/%d/result" % number)
        self.assertEqual(status, 200)
        return answer["result"]

    def test_scatter_and_compare_are_what_the_program_prints(self):
        got = self.finish("scatter", {"setups": [SMOOTH], "swings": 100, "seed": 3, "fairway": "25 m"})
        points = got.pop("landing_points")
        if not SLOW:
            self.assertEqual(got, printed("scatter", SETUPS[0], "--swings", 100, "--seed", 3, "--fairway", "25 m"))
        carry = points[0]["carry_m"]
        self.assertEqual(len(carry), 100 - got["setups"][0]["failed"])
        self.assertAlmostEqual(sum(carry) / len(carry), got["setups"][0]["outputs"]["carry_m"]["mean"], places=9)
        if not SLOW:
            got = self.finish("compare", {"setups": [SMOOTH, FIRM], "swings": 100})
            swings = [printed("swing", path)["impact"] for path in SETUPS]
            for row in got["outputs"]:
                self.assertEqual(row["values"], [swing[row["name"]] for swing in swings])

    def test_other_runs_are_what_the_program_prints(self):
        number = self.job("sensitivity", {"setup": SMOOTH, "parts": 50})
        while (about := self.server.get("jobs/%d" % number)[1]["result"])["done"] < 2:
            time.sleep(0.02)
        self.assertGreater(about["total"], 400)
        self.server.post("jobs/%d/cancel" % number, {})
        self.assertEqual(self.events(number)[-1][1]["state"], "cancelled")
        if not SLOW:
            self.assertEqual(self.finish("sensitivity", {"setup": SMOOTH, "parts": 2}),
                             printed("swing", SETUPS[0], "--sensitivity", "--parts", 2))
        shaft = self.folder / "measured.yaml"
        self.good("profile", MODELS / "readings/neutral.yaml", "--output", shaft)
        measured = {**SMOOTH, "parts": {"shaft": {"folder": "user", "file": "measured.yaml"}}}
        # Hundreds of draws take long; that they run, are heard and end is enough.
        for name in ("uncertainty", "bench_uncertainty"):
            number = self.job(name, {"setup": measured, "draws": 10000})
            while self.server.get("jobs/%d" % number)[1]["result"]["done"] < 2:
                time.sleep(0.05)
            self.server.post("jobs/%d/cancel" % number, {})
            self.assertEqual(self.events(number)[-1][1]["state"], "cancelled")

    def test_a_job_is_cancelled_or_fails(self):
        long = {"setups": [SMOOTH], "swings": 20000}
        number, waiting = self.job("scatter", long), self.job("scatter", long)
        self.assertEqual(self.server.get("jobs/%d/result" % number)[0], 409)
        more = [self.server.post("jobs", {"run": "scatter", "ask": long}) for _ in range(4)]
        self.assertEqual([status for status, _ in more], [202, 202, 503, 503])
        for job in [waiting] + [answer["result"]["job"] for status, answer in more if status == 202] + [number]:
            self.assertEqual(self.server.post("jobs/%d/cancel" % job, {})[0], 200)
        events = self.events(number)
        self.assertEqual(events[-1][1]["state"], "cancelled")
        self.assertEqual(self.server.get("jobs/%d/result" % number)[0], 422)
        self.assertEqual(self.server.get("jobs/%d" % waiting)[1]["result"]["state"], "cancelled")
        self.assertEqual(self.server.post("jobs/%d/cancel" % waiting, {})[0], 409)
        failed = self.job("scatter", {"setups": [{"file": "no-such.yaml"}]})
        self.assertEqual(self.events(failed)[-1][1]["state"], "failed")
        self.assertIn("no such file", self.server.get("jobs/%d/result" % failed)[1]["error"]["message"])
        for word in ("0", "-1", "x", "99999999999999999999", "1x"):
            self.assertEqual(self.server.get("jobs/" + word)[0], 404, word)

    def test_few_jobs_are_kept(self):
        numbers = []
        for _ in range(20):
            numbers.append(self.job("scatter", {"setups": []}))
            self.events(numbers[-1])
        kept = [job["job"] for job in self.server.get("jobs")[1]["result"]["jobs"]]
        self.assertEqual(kept, numbers[-16:])


def many_files():
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, max(soft, 1024)), hard))


class Strain(Case):
    def setUp(self):
        super().setUp()
        self.server = Server(folder=self.dir)
        self.addCleanup(self.server.process.kill)

    def test_silence_gives_way(self):
        many_files()
        links = [socket.create_connection(("127.0.0.1", self.server.port)) for _ in range(450)]
        began = time.monotonic()
        self.assertEqual(self.server.get("units")[0], 200)
        self.assertLess(time.monotonic() - began, 8)  # silent ones are left alone for 20 s while there is room
        for link in links:
            link.close()
        self.assertEqual(self.server.stop(), (0, ""))

    def test_a_burst(self):
        many_files()
        body = json.dumps({"setup": SMOOTH}).encode()
        whole = b"POST /api/v1/load HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/json\r\n" \
                b"Connection: close\r\nContent-Length: %d\r\n\r\n%s" % (self.server.port, len(body), body)
        for round_number in range(2):
            links = [socket.create_connection(("127.0.0.1", self.server.port), timeout=120) for _ in range(200)]
            for link in links:
                link.sendall(whole)
            answers = [read_all(link) for link in links]
            for link in links:
                link.close()
            self.assertEqual({a.split(b"\r\n")[0] for a in answers}, {b"HTTP/1.1 200 OK"})
            self.assertEqual(len({a.split(b"\r\n\r\n", 1)[1] for a in answers}), 1)
            if round_number == 0:
                first = self.server.memory()
        if not SLOW:
            self.assertLess(self.server.memory(), first + 8000)
        # More than may wait are refused at once, and asked to come again.
        links = [socket.create_connection(("127.0.0.1", self.server.port), timeout=120) for _ in range(300)]
        for link in links:
            link.sendall(whole.replace(b"/load", b"/trims"))
        time.sleep(0.5)
        busy = [link for link in links if self.has_answer(link)]
        heads = [link.recv(4096) for link in busy]
        self.assertTrue(any(b" 503 " in head[:20] and b"Retry-After" in head for head in heads), len(heads))
        # They go away: what they wanted is not computed, and the next is not kept waiting.
        for link in links:
            link.close()
        time.sleep(1 if SLOW else 0.3)
        began = time.monotonic()
        self.assertEqual(self.server.post("load", {"setup": SMOOTH})[0], 200)
        self.assertLess(time.monotonic() - began, 10 if SLOW else 3)
        self.assertEqual(self.server.stop(), (0, ""))

    @staticmethod
    def has_answer(link):
        link.setblocking(False)
        try:
            return bool(link.recv(1, socket.MSG_PEEK))
        except BlockingIOError:
            return False
        finally:
            link.settimeout(120)

    def test_a_slow_client_holds_up_nobody(self):
        slow = [socket.create_connection(("127.0.0.1", self.server.port)) for _ in range(60)]
        for i, link in enumerate(slow):
            link.sendall((b"GET /api/v1 HTT", b"POST /api/v1/swing HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: "
                          b"application/json\r\nContent-Length: 100\r\n\r\n{" % self.server.port)[i % 2])
        began = time.monotonic()
        self.assertEqual(self.server.get("units")[0], 200)
        self.assertEqual(self.server.post("load", {"setup": SMOOTH})[0], 200)
        self.assertLess(time.monotonic() - began, 10 if SLOW else 2)
        for link in slow:
            link.close()
        self.assertEqual(self.server.stop(), (0, ""))
        # 8 s after its head a request must be whole.
        self.assertEqual([7 < seconds < (60 if SLOW else 18) for seconds in DRIPS.result()], [True, True])

    def test_it_stops_once_begun_work_is_done(self):
        with concurrent.futures.ThreadPoolExecutor() as pool:
            number = self.server.post("jobs", {"run": "scatter", "ask": {"setups": [SMOOTH], "swings": 20000}})[1]
            number = number["result"]["job"]
            events = pool.submit(self.server.ask, "GET", "/api/v1/jobs/%d/events" % number)
            idle = socket.create_connection(("127.0.0.1", self.server.port))
            trims = pool.submit(self.server.post, "trims", {"setup": SMOOTH})
            time.sleep(0.3)
            began = time.monotonic()
            self.assertEqual(self.server.stop(), (0, ""))
            self.assertLess(time.monotonic() - began, 15)
            status, answer = trims.result()
            self.assertEqual((status, len(answer["result"]["trims"]) > 3), (200, True))
            self.assertEqual(events.result()[0], 200)
            idle.close()
        with self.assertRaises(OSError):
            socket.create_connection(("127.0.0.1", self.server.port))

    def test_clients_that_die(self):
        body = json.dumps({"setup": SMOOTH}).encode()
        for path in (b"swing", b"series", b"trims") * (1 if SLOW else 5):
            link = socket.create_connection(("127.0.0.1", self.server.port))
            link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
            link.sendall(b"POST /api/v1/%s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/json\r\n"
                         b"Content-Length: %d\r\n\r\n%s" % (path, self.server.port, len(body), body))
            link.close()
        number = self.server.post("jobs", {"run": "scatter", "ask": {"setups": [SMOOTH]}})[1]["result"]["job"]
        for _ in range(40):
            link = socket.create_connection(("127.0.0.1", self.server.port))
            link.sendall(b"GET /api/v1/jobs/%d/events HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n" % (number, self.server.port))
            link.recv(10)
            link.close()
        self.assertEqual(self.server.post("load", {"setup": SMOOTH})[0], 200)
        self.assertEqual(self.server.stop(), (0, ""))


class Siege(Case):
    def test_every_kind_of_bad_client(self):
        self.assertEqual(SIEGE.result(), [])


class Start(Case):
    def test_what_keeps_it_from_starting(self):
        taken = socket.create_server(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        for words, text in ((["--port", port], r"port \d+ of 127.0.0.1 cannot be had"),
                            (["--port", "0"], "--port"), (["--port", "70000"], "--port"), (["--threads", "0"], "--threads"),
                            (["--folder", self.dir / "none"], "No such file"), (["--models", SETUPS[0]], "folder"),
                            (["--models", "/"], "root")):
            words = ["--models", MODELS, *words] if "--models" not in words else words
            self.assertRegex(self.bad(1, "serve", *words), text)
        self.assertRegex(self.bad(1, "serve", cwd=self.dir), "models") if not (
            pathlib.Path(CABER).resolve().parent.parent / "share/caber/models").exists() else None
        taken.close()
        self.bad(2, "serve", "x")

    def test_the_port_that_was_given(self):
        taken = socket.create_server(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        taken.close()
        server = Server("--port", str(port))
        self.assertEqual(server.port, port)
        # To this machine only.
        listening = subprocess.run(["cat", "/proc/net/tcp"], capture_output=True, text=True, check=True).stdout
        self.assertIn("0100007F:%04X 00000000:0000 0A" % port, listening)
        self.assertNotIn("00000000:%04X 00000000:0000 0A" % port, listening)
        self.assertEqual(server.stop(signal.SIGINT), (0, ""))


if __name__ == "__main__":
    # Most of that time is waiting: the other tests run meanwhile.
    with tempfile.TemporaryDirectory() as scratch, concurrent.futures.ThreadPoolExecutor() as beside:
        DRIPS = beside.submit(drip, Server(folder=scratch))
        SIEGE = beside.submit(siege)
        main()
