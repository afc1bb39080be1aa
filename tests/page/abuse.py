#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Loads `caber serve` with wrk while every kind of bad client is at it, and ends it in the middle of that.

Usage: tests/page/abuse.py [PROGRAM] [--seconds 30] [--connections 200]

The program is build/caber if not given; one of build-asan/ says of its memory what a release build does not. Needs
wrk. Beside wrk's 200 connections run: heads and bodies that come a byte a second, connections that say nothing
(300), are half closed, or are dropped in a request, in an answer and in a stream of events; bodies that are too large
or damaged, wrong hosts and origins, paths that lead elsewhere, noise; jobs begun and abandoned; and one honest
client, whose answers must stay the same. What is checked: no answer of 500, no wrong one, no status that is not
expected; memory and files afterwards as before; nothing on standard error; exit with 0 on SIGTERM under load.
"""
import argparse
import concurrent.futures
import http.client
import json
import os
import pathlib
import random
import resource
import socket
import sys
import tempfile
import threading
import time

from served import ROOT, SETUP, Server, post, wrk

JSON = {"Content-Type": "application/json"}
MEMORY_KB = 64 << 10  # that may stay beyond what was used before: 400 connections have 16 kB each for their heads
LINGER = b"\1\0\0\0\0\0\0\0"  # closing drops the connection at once


class Abuse:
    """The bad clients, each a thread that goes on until `over`."""

    def __init__(self, server):
        self.server, self.over = server, threading.Event()
        self.wrong, self.counts, self.lock = [], {}, threading.Lock()
        self.honest_ms = []

    # -------------------------------------------------------------- tools

    def count(self, what):
        with self.lock:
            self.counts[what] = self.counts.get(what, 0) + 1

    def complain(self, text):
        with self.lock:
            self.wrong.append(text)

    def connect(self):
        return socket.create_connection(("127.0.0.1", self.server.port), timeout=60)

    def head(self, method, path, *lines, host=None):
        host = host or "127.0.0.1:%d" % self.server.port
        return "\r\n".join(("%s %s HTTP/1.1" % (method, path), "Host: " + host, *lines, "", "")).encode()

    def status(self, data):
        """Of the answer to bytes; None when there was none."""
        with self.connect() as link:
            link.sendall(data)
            begin = link.recv(12)
        return int(begin[9:12]) if begin.startswith(b"HTTP/1.1 ") and len(begin) == 12 else None

    def expect(self, what, data, *allowed):
        try:
            got = self.status(data)
        except OSError:
            got = None
        self.count(what)
        if got not in (*allowed, None, 503):
            self.complain("%s: status %s" % (what, got))

    def ask(self, method, path, body=None):
        link = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=120)
        try:
            link.request(method, path, body, JSON if body else {})
            answer = link.getresponse()
            return answer.status, answer.read()
        finally:
            link.close()

    # -------------------------------------------------------------- clients

    def slow(self, data):
        """Sends a byte a second until it is sent away."""
        with self.connect() as link:
            for at in range(len(data)):
                link.sendall(data[at:at + 1])
                if self.over.wait(1):
                    break
        self.count("slow")

    def slow_head(self):
        self.slow(self.head("GET", "/api/v1", "X-Slow: " + "a" * 200))

    def slow_body(self):
        with self.connect() as link:
            link.sendall(self.head("POST", "/api/v1/swing", "Content-Type: application/json", "Content-Length: 100"))
            while not self.over.wait(1):
                link.sendall(b" ")

    def silent(self):
        with self.connect() as link:
            link.settimeout(1)
            while not self.over.is_set():
                try:
                    if link.recv(1) == b"":
                        break
                except socket.timeout:
                    pass
        self.count("silent")

    def half_closed(self):
        with self.connect() as link:
            link.sendall(random.choice((b"GET /api/v1 HT", b"POST /api/v1/swing HTTP/1.1\r\nContent-Length: 9\r\n\r\n{", b"")))
            link.shutdown(socket.SHUT_WR)
            link.settimeout(20)
            while link.recv(4096):
                pass
        self.count("half closed")

    def dropped(self):
        """Goes away in its request, or before or in the answer to it."""
        path = random.choice(("/api/v1/swing", "/api/v1/series", "/api/v1/trims", "/api/v1/inputs"))
        body = json.dumps(SETUP)
        data = self.head("POST", path, "Content-Type: application/json", "Content-Length: %d" % len(body)) + body.encode()
        with self.connect() as link:
            link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, LINGER)
            link.sendall(data[:random.choice((len(data), len(data), random.randrange(len(data))))])
            time.sleep(random.choice((0, 0.01, 0.1)))
        self.count("dropped")

    def oversized(self):
        declared = self.head("POST", "/api/v1/swing", "Content-Type: application/json", "Content-Length: 99999999999")
        self.expect("oversized", declared, 413)
        with self.connect() as link:
            link.sendall(self.head("POST", "/api/v1/swing", "Content-Type: application/json", "Transfer-Encoding: chunked"))
            for _ in range(200):
                link.sendall(b"10000\r\n" + b" " * 0x10000 + b"\r\n")
        self.count("endless")

    def malformed(self):
        body = random.choice((b"{", b"[]", b"{}" * 999, b"\xff\xfe", b'{"setup":{"file":"../x"}}', b'{"setup":' * 5000,
                              b'{"setup":{"text":"[1, {"}}', b'{"setup":{"file":"neutral-smooth.yaml","set":{"air":1}}}',
                              bytes(random.randrange(256) for _ in range(500))))
        head = self.head("POST", "/api/v1/swing", "Content-Type: application/json", "Content-Length: %d" % len(body))
        self.expect("malformed", head + body, 400, 422)
        self.expect("no type", self.head("POST", "/api/v1/swing", "Content-Length: 2") + b"{}", 415)
        noise = bytes(random.randrange(256) for _ in range(300)) + b"\r\n\r\n"
        self.expect("noise", noise, 400, 404, 405, 505)

    def strangers(self):
        for host in ("example.org", "127.0.0.1", "localhost:1", "[::1]:%d" % self.server.port, ""):
            self.expect("wrong host", self.head("GET", "/", host=host or " "), 421, 400)
        for origin in ("http://example.org", "null", "https://127.0.0.1:%d" % self.server.port):
            self.expect("wrong origin", self.head("GET", "/api/v1", "Origin: " + origin), 403)
        self.expect("wrong site", self.head("GET", "/api/v1", "Sec-Fetch-Site: cross-site"), 403)
        for path in ("/../etc/passwd", "/%2e%2e/etc/passwd", "/api/v1/files/models/setup/..%2f..%2fREADME.md",
                     "/api/v1/files/models/../setup", "//etc/passwd", "/api/v1/files/models/setup/" + "a" * 3000,
                     "/api/v1/files/models/setup/%00", "/api/v1/jobs/-1", "/api/v1/jobs/4294967297", "/" + "%2f" * 500):
            self.expect("path", self.head("GET", path), 400, 404, 414, 422)
        self.expect("method", self.head("DELETE", "/api/v1/swing"), 405)

    def abandoned_job(self):
        """Begins a job and listens, then goes away; sometimes cancels one."""
        run = random.choice(("scatter", "sensitivity", "uncertainty"))
        ask = {"setups": [SETUP["setup"]], "swings": 2000} if run == "scatter" else SETUP
        status, text = self.ask("POST", "/api/v1/jobs", json.dumps({"run": run, "ask": ask}))
        self.count("job")
        if status == 503:
            time.sleep(0.2)
            return
        if status != 202:
            return self.complain("job: status %d" % status)
        number = json.loads(text)["result"]["job"]
        for _ in range(5):
            with self.connect() as link:
                link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, LINGER)
                link.sendall(self.head("GET", "/api/v1/jobs/%d/events" % number))
                link.recv(random.choice((1, 300)))
            self.count("stream dropped")
        if random.random() < 0.7:
            self.ask("POST", "/api/v1/jobs/%d/cancel" % number, "{}")

    def honest(self):
        began = time.monotonic()
        status, text = self.ask("POST", "/api/v1/swing", json.dumps(SETUP))
        if status == 200 and text != self.answer:
            self.complain("an honest client got another answer")
        if status not in (200, 503):
            self.complain("an honest client got status %d" % status)
        self.honest_ms.append(1e3 * (time.monotonic() - began))
        self.count("honest" if status == 200 else "honest, told to come again")
        time.sleep(0.1)

    # -------------------------------------------------------------- all of them

    CLIENTS = (("slow_head", 20), ("slow_body", 20), ("silent", 300), ("half_closed", 10), ("dropped", 4),
               ("oversized", 2), ("malformed", 3), ("strangers", 2), ("abandoned_job", 3), ("honest", 1))

    def forever(self, client):
        while not self.over.is_set():
            try:
                client()
            except (OSError, http.client.HTTPException):
                self.count("sent away")
                self.over.wait(0.05)

    def begin(self, pool):
        # Before the others come.
        self.answer = self.ask("POST", "/api/v1/swing", json.dumps(SETUP))[1]
        return [pool.submit(self.forever, getattr(self, name)) for name, count in self.CLIENTS for _ in range(count)]


def settled(server, before, patience):
    """Files and memory once the last client has gone, and the longest times a server waits for one have passed."""
    end = time.monotonic() + patience
    while server.files() > before and time.monotonic() < end:
        time.sleep(0.5)
    return server.files(), server.status("VmRSS")


LOADS = (("GET /", [("GET", "/", None)]),
         ("GET /api/v1", [("GET", "/api/v1", None)]),
         ("POST swing", [post("swing")]),
         ("a mix", [post("swing"), ("GET", "/", None), post("series"), ("GET", "/api/v1/files", None), post("load"),
                    post("inputs"), ("GET", "/none", None), post("swing", {"setup": {}}), post("shaft")]))


def under_load(server, given):
    """The four loads with the bad clients; returns what was wrong."""
    abuse = Abuse(server)
    with concurrent.futures.ThreadPoolExecutor(max_workers=400) as pool:
        clients = abuse.begin(pool)
        print("%-12s %10s %10s %10s %10s %8s %8s %10s %6s" % (
            "load", "a second", "p50, ms", "p99, ms", "most, ms", "refused", "broken", "memory, MB", "files"))
        for name, asks in LOADS:
            said = wrk(server, asks, given.seconds, given.connections)
            print("%-12s %10.0f %10.2f %10.1f %10.1f %8d %8d %10.1f %6d" % (
                name, said["requests"] / said["seconds"], said["p50_ms"], said["p99_ms"], said["most_ms"],
                said["refused"], said["broken"] + said["late"], server.status("VmRSS") / 1024, server.files()), flush=True)
        abuse.over.set()
        for client in clients:
            client.result()
    print("beside it: " + ", ".join("%d %s" % (n, what) for what, n in sorted(abuse.counts.items())))
    times = sorted(abuse.honest_ms)
    print("the honest client waited %.0f ms at the median, %.0f ms at most" % (times[len(times) // 2], times[-1]))
    return abuse.wrong


def ended(server, load=None):
    """SIGTERM after two seconds of the bad clients, and of `load` beside them; returns what was wrong."""
    abuse = Abuse(server)
    with concurrent.futures.ThreadPoolExecutor(max_workers=400) as pool:
        abuse.begin(pool)
        loading = load and pool.submit(load)
        time.sleep(2)
        began = time.monotonic()
        status, said = server.stop()
        took = time.monotonic() - began
        abuse.over.set()
        if loading:
            loading.result()
    wrong = [*(["exit status %d" % status] if status else []), *([said] if said else []), *abuse.wrong]
    return took, wrong + (["it took %.1f s to end" % took] if took > 15 else [])


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("program", nargs="?", default=ROOT / "build/caber", type=pathlib.Path)
    parser.add_argument("--seconds", type=int, default=30, help="of each of the four loads (default 30)")
    parser.add_argument("--connections", type=int, default=200, help="of wrk (default 200)")
    given = parser.parse_args()
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 4096), hard))
    with tempfile.TemporaryDirectory() as folder:
        # A build with sanitisers keeps freed memory for later, but not so much of it.
        os.environ.setdefault("ASAN_OPTIONS", "quarantine_size_mb=16")
        server = Server(given.program, "--threads", "2", folder=folder)
        for _, asks in LOADS:
            wrk(server, asks, 1, 20)
        time.sleep(1)
        files, memory = server.files(), server.status("VmRSS")
        print("before: %.1f MB, %d files" % (memory / 1024, files))
        wrong = under_load(server, given)
        files_after, memory_after = settled(server, files, 40)
        print("after: %.1f MB, %d files, %.1f MB at most" % (memory_after / 1024, files_after, server.status("VmHWM") / 1024))
        wrong += ["%d files are open, %d were" % (files_after, files)] if files_after > files else []
        wrong += ["%.0f MB are kept" % (memory_after / 1024)] if memory_after > memory + MEMORY_KB else []
        took, more = ended(server, lambda: wrk(server, LOADS[3][1], 4, given.connections))
        print("ended under load after %.1f s" % took)
        wrong += more
    for text in sorted(set(wrong))[:20]:
        print("WRONG: %s (%d times)" % (text, wrong.count(text)))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
