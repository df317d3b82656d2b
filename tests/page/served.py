"""A served workspace for the tests of the page: a small rehearsed night, the program as its server, requests to it."""
import json
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path


class Served:
    """with Served(program) as s: s.ask("/api/sky", {...}) -> (status, reply)"""

    def __init__(self, program, *options, lights=4):
        self.program = str(Path(program).resolve())
        self.options = options
        self.lights = lights

    def __enter__(self):
        self.place = tempfile.TemporaryDirectory(prefix="ng-served-")
        self.folder = Path(self.place.name) / "sky"
        self.run("init", self.folder, "--time-zone", "Europe/Rome")
        if self.lights:
            n = str(self.lights)
            self.run("rehearse", "--out", self.folder / "frames/night", "--filters", "L", "--lights", n, "--size", "900x700",
                     "--darks", n, "--flats", n, "--bias", n, "--dark-flats", n, "--quiet")
        self.server = subprocess.Popen([self.program, "serve", "--workspace", str(self.folder), "--port", "0", "--json", *self.options],
                                       stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        text = ""
        while True:  # one document, over several lines
            text += self.server.stdout.readline()
            try:
                self.about = json.loads(text)
                break
            except json.JSONDecodeError:
                if self.server.poll() is not None:
                    sys.exit(f"the server did not start: {text}")
        self.address = self.about["address"]
        self.port = int(self.address.rsplit(":", 1)[1])
        return self

    def __exit__(self, *_):
        self.server.terminate()
        self.server.wait(20)
        self.place.cleanup()

    def run(self, *words):
        done = subprocess.run([self.program, *map(str, words)], capture_output=True, text=True, cwd=self.place.name)
        if done.returncode:
            sys.exit(f"{' '.join(map(str, words))}: {done.stderr}")
        return done.stdout

    def ask(self, path, body=None):
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.address + path, data, {"Content-Type": "application/json"} if data else {})
        try:
            with urllib.request.urlopen(request, timeout=120) as response:
                return response.status, json.loads(response.read())
        except urllib.error.HTTPError as error:
            return error.code, json.loads(error.read())

    def job(self, service, body):
        """The whole job, when it has ended."""
        status, reply = self.ask(f"/api/jobs/{service}", body)
        if status != 200:
            return {"state": "refused", "error": reply["error"], "reply": None}
        while True:
            job = self.ask(f"/api/jobs/{reply['id']}")[1]
            if job["state"] in ("done", "failed", "cancelled"):
                return job
            time.sleep(0.05)
