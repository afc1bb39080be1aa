# SPDX-License-Identifier: GPL-3.0-or-later
"""A `caber serve` of one's own, and wrk at it: shared by abuse.py and scripts/bench --page."""
import json
import os
import pathlib
import re
import signal
import subprocess
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
SETUP = {"setup": {"file": "neutral-smooth.yaml"}}

# Asks in turn what is listed; says in the end what came of it.
LUA = """
local asks = {}
function init()
  for _, ask in ipairs(%s) do
    wrk.headers["Content-Type"] = ask[3] and "application/json" or nil
    asks[#asks + 1] = wrk.format(ask[1], ask[2], nil, ask[3])
  end
end
local at = 0
function request()
  at = at %% #asks + 1
  return asks[at]
end
function done(summary, latency)
  local e = summary.errors
  io.write(string.format('\\n{"requests": %%d, "seconds": %%.3f, "p50_ms": %%.3f, "p99_ms": %%.3f, "most_ms": %%.3f, ' ..
    '"refused": %%d, "broken": %%d, "late": %%d}\\n', summary.requests, summary.duration / 1e6,
    latency:percentile(50) / 1e3, latency:percentile(99) / 1e3, latency.max / 1e3,
    e.status, e.connect + e.read + e.write, e.timeout))
end
"""


class Server:
    def __init__(self, program, *words, folder=None):
        self.process = subprocess.Popen(
            [program, "serve", "--models", ROOT / "models", *(["--folder", folder] if folder else []), *words],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.address = self.process.stdout.readline().strip()
        self.port = int(self.address.split(":")[-1].strip("/"))

    def status(self, what):
        """A number of /proc/PID/status; kB for memory."""
        text = pathlib.Path("/proc/%d/status" % self.process.pid).read_text(encoding="ascii")
        return int(re.search(r"^%s:\s+(\d+)" % what, text, re.M)[1])

    def processor_ms(self):
        """Processor time so far, of all threads."""
        tasks = pathlib.Path("/proc/%d/task" % self.process.pid)
        return sum(int((task / "schedstat").read_text(encoding="ascii").split()[0]) for task in tasks.iterdir()) / 1e6

    def files(self):
        """How many files are open."""
        return len(os.listdir("/proc/%d/fd" % self.process.pid))

    def stop(self, how=signal.SIGTERM, patience=60):
        """Returns (status, what it said on standard error)."""
        self.process.send_signal(how)
        said = self.process.communicate(timeout=patience)[1]
        return self.process.returncode, said


def wrk(server, asks, seconds, connections):
    """Asks (method, path, body or None) in turn; returns what LUA says."""
    quoted = ("{%s}" % ", ".join("[==[%s]==]" % part for part in ask if part is not None) for ask in asks)
    with tempfile.NamedTemporaryFile("w", suffix=".lua") as script:
        script.write(LUA % ("{%s}" % ", ".join(quoted)))
        script.flush()
        said = subprocess.run(["wrk", "-t2", "-c%d" % connections, "-d%ds" % seconds, "--timeout", "30s", "-s",
                               script.name, server.address], check=True, stdout=subprocess.PIPE, text=True).stdout
    return json.loads(said.splitlines()[-1])


def post(path, body=SETUP):
    return ("POST", "/api/v1/" + path, json.dumps(body))
