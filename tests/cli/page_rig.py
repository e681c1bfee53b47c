# SPDX-License-Identifier: MIT
"""nodoff page under test: the command itself, and a stand-in for nodoffd that answers on a
socket of its own and remembers what was put into the journal."""
import json
import os
import pathlib
import queue
import socket
import subprocess
import tempfile
import threading
import urllib.error
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[2]
PATIENCE = 60  # seconds, for anything that is waited for; nothing waits for time to pass
NOW = 1700000000 * 10**9


def view(**more):
    """What nodoffd tells, of a car whose network is awake past its deadline."""
    network = {"name": "body", "interface": "can0", "listening": True, "state": "awake",
               "since_ns": NOW - 900 * 10**9, "deadline_ns": NOW - 60 * 10**9, "load": 0.1,
               "verdict": "kept awake", "reason": "", "frames": 1, "lost": 0}
    return {"now_ns": NOW, "session": {"recording": True, "started_ns": NOW - 10**12, "frames": 1},
            "taps": [], "networks": [network], "current": {"time_ns": NOW, "microamps": 2100000},
            "verdict": "kept awake", "sentence": "roof unit keeps body awake (97 % sure).",
            "next": "Isolate fuse F12 and watch body for 4 min.", "cautions": ["Mind the alarm."],
            "proposals": [{"what": "fuse F12", "fuse": "F12", "box": "cabin", "caution": ""}],
            "out": [], "suspects": [{"name": "roof unit", "role": "holder", "probability": 0.97}],
            "wake": None, "marks": [], **more}


class StandIn:
    """Speaks daemon/PROTOCOL.md, as far as the page asks."""

    def __init__(self, path):
        self.path, self.view, self.marks, self.refuse = path, view(), queue.Queue(), None
        self.watchers, self.clients = [], []
        self.open()

    def open(self):
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(self.path)
        self.listener.listen(8)
        threading.Thread(target=self.accept, args=[self.listener], daemon=True).start()

    def close(self):
        """As if nodoffd ended."""
        if self.listener.fileno() < 0:
            return
        os.unlink(self.path)
        self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        for client in self.clients:
            try:
                client.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass # it was gone before
            client.close()
        self.watchers, self.clients = [], []

    def accept(self, listener):
        while True:
            try:
                client, _ = listener.accept()
            except OSError:
                return
            self.clients.append(client)
            threading.Thread(target=self.serve, args=[client], daemon=True).start()

    def serve(self, client):
        for line in client.makefile("r", encoding="utf-8"):
            request = json.loads(line)
            answer = {"id": request.get("id"), "ok": True, "protocol": 1}
            if request["do"] == "watch":
                answer.update(self.view)
                self.watchers.append(client)
            elif request["do"] == "map":
                answer.update(fuses=[{"name": name, "box": "cabin", "feeds": [], "cautions": []}
                                     for name in ("F12", "F14")],
                              modules=["roof unit"], inputs=["tailgate switch"])
            elif self.refuse:
                answer.update(ok=False, error=self.refuse)
            else:
                self.marks.put(request)
            client.sendall(json.dumps(answer).encode() + b"\n")

    def tell(self, **more):
        self.view = view(**more)
        line = json.dumps({"event": "view", "protocol": 1, **self.view}).encode() + b"\n"
        for client in self.watchers:
            client.sendall(line)


class Page:
    """A running `nodoff page`."""

    def __init__(self, program, *arguments, port=0, wrapper=()):
        self.process = subprocess.Popen(
            [*wrapper, program, "page", "--on", f"127.0.0.1:{port}", *arguments],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.url = self.process.stdout.readline().strip()
        if not self.url.startswith("http://"):
            raise AssertionError(self.url + self.process.stderr.read())

    @property
    def port(self):
        return int(self.url.split(":")[2].split("/")[0])

    def end(self):
        self.process.terminate()
        self.process.wait(PATIENCE)
        code = self.process.returncode
        self.process.stdout.close()
        self.process.stderr.close()
        return code

    def request(self, name, body=None, headers=None, method=None):
        """(status, headers, text)"""
        request = urllib.request.Request(self.url + name, body, headers or {}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
                return answer.status, answer.headers, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.headers, error.read().decode()

    def tap(self, **what):
        body = {"id": "a-1", "kind": "isolated", "subject": "F12", "time_ms": NOW // 10**6, **what}
        status, _, text = self.request("tap", json.dumps(body).encode(),
                                       {"Content-Type": "application/json"})
        return status, json.loads(text)

    def events(self):
        """Yields (event, object) as they come."""
        with urllib.request.urlopen(self.url + "events", timeout=PATIENCE) as stream:
            for line in stream:
                text = line.decode().rstrip("\n")
                if text.startswith("event: "):
                    event = text[7:]
                elif text.startswith("data: "):
                    yield event, json.loads(text[6:])


def scratch():
    return tempfile.TemporaryDirectory(prefix="nodoff-page-")
