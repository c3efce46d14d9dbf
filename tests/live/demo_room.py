"""The scaled demo room as two processes on free ports, for the live tests."""
import json
import os
import pathlib
import shutil
import signal
import socket
import subprocess
import tempfile
import time

SOURCE = pathlib.Path(__file__).resolve().parents[2]
PORT_IN_FILE = "15020"
SYSTEMS = ["loading-dock", "roof-void", "freezer", "archive"]


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Room:
    """`with Room(binary) as room:` starts the plant; `room.start()` the daemon."""

    def __init__(self, binary, site="demo-live.yaml"):
        self.binary = str(pathlib.Path(binary).resolve())
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="riserkeep-live-"))
        self.port = free_port()
        text = (SOURCE / "config/examples" / site).read_text().replace(PORT_IN_FILE, str(self.port))
        self.site = self.folder / "site.yaml"
        self.site.write_text(text)
        self.state = self.folder / "state"
        self.state.mkdir()
        self.plant = self.daemon = None
        self.runs = 0

    def __enter__(self):
        self.plant = subprocess.Popen([self.binary, "plant", str(self.site), "--port", str(self.port), "--demo", "--seed", "1"],
                                      stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=open(self.folder / "plant.err", "w"), text=True)
        self.wait(lambda: self.reachable(), 20, "the plant listens")
        return self

    def __exit__(self, kind, *_):
        for process in (self.daemon, self.plant):
            if process and process.poll() is None:
                process.terminate()
                try:
                    process.wait(15)
                except subprocess.TimeoutExpired:
                    process.kill()
        if kind:
            print("--- daemon log\n" + "\n".join(self.log().splitlines()[-40:]))
            print("kept: " + str(self.folder))
        else:
            shutil.rmtree(self.folder, ignore_errors=True)

    def reachable(self):
        with socket.socket() as s:
            s.settimeout(1)
            return s.connect_ex(("127.0.0.1", self.port)) == 0

    @staticmethod
    def wait(condition, seconds, what):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if condition():
                return
            time.sleep(0.05)
        raise AssertionError(f"waited {seconds} s in vain until {what}")

    def start(self):
        self.runs += 1
        self.events_file = self.folder / f"events-{self.runs}.jsonl"
        self.daemon = subprocess.Popen([self.binary, "run", str(self.site), "--state", str(self.state), "--events", "-"],
                                       stdout=open(self.events_file, "w"), stderr=open(self.folder / "daemon.err", "a"))
        self.wait(lambda: self.daemon.poll() is not None or self.command("status").returncode == 0, 30, "the daemon answers")
        assert self.daemon.poll() is None, "the daemon ended: " + self.log()[-2000:]

    def kill(self):
        self.daemon.send_signal(signal.SIGKILL)
        self.daemon.wait()

    def stop(self):
        self.daemon.terminate()
        return self.daemon.wait(20)

    def log(self):
        path = self.folder / "daemon.err"
        return path.read_text() if path.exists() else ""

    def command(self, *words, timeout=60):
        return subprocess.run([self.binary, *words, "--state", str(self.state)], capture_output=True, text=True, timeout=timeout)

    def engine_ms(self):
        return json.loads(self.command("status", "--json").stdout)["engine_ms"]

    def gauge(self, system):
        """What a fitter would read beside the valve; None while there is no reading."""
        out = self.command("status", "--json")
        systems = json.loads(out.stdout)["systems"] if out.returncode == 0 else []
        return next((s["air"]["psi"] for s in systems if s["id"] == system), None)

    def commission(self, system, patience=120):
        """Again while it is refused for the moment, as during a refill."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            psi = self.gauge(system)
            done = psi is not None and self.command("commission", system, "--by", "R. Fitter", "--yes", "--gauge", f"{psi:.2f}", timeout=180)
            if done and done.returncode == 0:
                return
            time.sleep(2)
        raise AssertionError(f"{system} is not commissioned: {done and (done.stdout + done.stderr)}")

    def told(self):
        """Events printed by all runs, in order; a last line cut by a kill is left out."""
        events = []
        for n in range(1, self.runs + 1):
            for line in (self.folder / f"events-{n}.jsonl").read_text().split("\n")[:-1]:
                events.append(json.loads(line))
        return events

    def journal(self):
        out = subprocess.run([self.binary, "export", "events", "--state", str(self.state)], capture_output=True, text=True)
        assert out.returncode == 0, out.stderr
        return [json.loads(line) for line in out.stdout.splitlines()]

    def plant_says(self, line):
        self.plant.stdin.write(line + "\n")
        self.plant.stdin.flush()

    def coils(self, unit=1, count=10):
        """By an independent client."""
        out = subprocess.run(["mbpoll", "-m", "tcp", "-p", str(self.port), "-a", str(unit), "-t", "0", "-0", "-r", "0", "-c", str(count),
                              "-1", "127.0.0.1"], capture_output=True, text=True, timeout=20)
        return [int(line.split("]:")[1].split()[0]) for line in out.stdout.splitlines() if line.startswith("[")]
