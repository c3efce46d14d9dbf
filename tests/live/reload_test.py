#!/usr/bin/python3
"""A new site file while the daemon runs: good ones are taken over with every vent shut and all state kept, bad ones are
   refused while everything goes on. reload_test.py RISERKEEP"""
import json
import os
import signal
import socket
import sys
import threading
import time

from demo_room import Room, SYSTEMS

binary = sys.argv[1]
WELL = "box: {well_output: relays 11}"


class Manager(threading.Thread):
    """The service manager's end of the notify socket."""

    def __init__(self, path):
        super().__init__(daemon=True)
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(path)
        self.said = []

    def run(self):
        while True:
            for line in self.socket.recv(4096).decode().splitlines():
                if line in ("READY=1", "RELOADING=1", "STOPPING=1", "WATCHDOG=1"):
                    self.said.append((time.monotonic(), line))

    def lines(self):
        return [line for _, line in self.said if line != "WATCHDOG=1"]

    def longest_silence(self):
        beats = [at for at, line in self.said if line == "WATCHDOG=1"]
        return max(b - a for a, b in zip(beats, beats[1:]))


def status(room):
    out = room.command("status", "--json")
    assert out.returncode == 0, out.stderr
    return json.loads(out.stdout)


def restarted_since(room, started):
    """Asked once: between two questions the runtime may be on its way out."""
    out = room.command("status", "--json")
    return out.returncode == 0 and json.loads(out.stdout)["started_ms"] != started


def system(room, name):
    return next(s for s in status(room)["systems"] if s["id"] == name)


def mode(room, name):
    found = system(room, name)
    return found.get("mode") or found["vent"]["mode"]


def alarms(room, name, change):
    return [e for e in room.told() if e["kind"] == "alarm" and e["alarm"] == name and e["change"] == change]


def last_first(text):
    """The same systems, the last of them written first."""
    head, rest = text.split("systems:\n")
    body, tail = rest.split("\nventing:")
    systems, current = [], []
    for line in body.splitlines(keepends=True):
        if line.startswith("  ") and not line.startswith("    ") and current:
            systems.append("".join(current))
            current = []
        current.append(line)
    systems.append("".join(current))
    assert len(systems) == 4, systems
    if not systems[-1].endswith("\n"):
        systems[-1] += "\n"
    return head + "systems:\n" + systems[-1] + "".join(systems[:-1]) + "\nventing:" + tail


with Room(binary) as room:
    manager = Manager(str(room.folder / "notify"))
    manager.start()
    os.environ["NOTIFY_SOCKET"] = str(room.folder / "notify")
    os.environ["WATCHDOG_USEC"] = "30000000"
    room.start()
    pid = room.daemon.pid
    good = room.site.read_text()
    Room.wait(lambda: manager.lines() == ["READY=1"], 25, "the daemon is ready")

    # A good file, with a vent open: shut, everything kept, and it goes on by itself.
    time.sleep(6)
    room.commission("loading-dock")
    assert room.command("mode", "loading-dock", "purge", "--by", "R. Fitter").returncode == 0
    assert room.command("lock", "archive", "--why", "hose off", "--by", "R. Fitter").returncode == 0
    Room.wait(lambda: room.coils()[0], 60, "a vent opens")
    second = last_first(good) + "holidays: [2031-12-25]\n"
    room.site.write_text(second)
    out = room.command("reload")
    assert out.returncode == 0 and "in force" in out.stdout, out
    assert not any(room.coils()[:4]), "a vent is open after the reload"
    assert manager.lines() == ["READY=1", "RELOADING=1", "READY=1"] or manager.lines() == ["READY=1", "RELOADING=1"], manager.lines()
    assert [s["id"] for s in status(room)["systems"]] == [SYSTEMS[3], *SYSTEMS[:3]], "the new order of the systems"
    assert mode(room, "loading-dock") == "purge"
    why = room.command("why", "archive").stdout
    assert "hose off" in why, why
    assert "hose off" not in room.command("why", "loading-dock").stdout
    Room.wait(lambda: room.coils()[0], 90, "the vent of the same system opens again: commissioned it still is")
    Room.wait(lambda: manager.lines()[-1] == "READY=1", 25, "ready again")
    print("good file: shut, kept, goes on", flush=True)

    # The relay that says the box is well.
    Room.wait(lambda: room.coils(count=11)[10] == 1, 20, "the box says that it is well")
    assert any(p["part"].startswith("relay") and p["well"] for p in status(room)["box"]), status(room)["box"]

    # Bad files under load: nothing stops, nothing is missed, the caller hears why.
    room.site.write_text(second.replace("cut_in: 28 psi", "cut_in: 28").replace("bore: 0.7 mm", "boer: 0.7 mm"))
    started = status(room)["started_ms"]
    ready_before = len(manager.lines())
    for n in range(30):
        if n % 3 == 2:
            room.daemon.send_signal(signal.SIGHUP)
            time.sleep(0.1)
        else:
            out = room.command("reload")
            assert out.returncode == 2, out
            assert str(room.site) + ":" in out.stderr and "has no unit" in out.stderr and "did you mean 'bore'" in out.stderr, out.stderr
        if n == 5:
            room.plant_says("fault freezer gauge dead")
        if n == 20:
            room.plant_says("clear freezer gauge dead")
        time.sleep(0.5)
    assert status(room)["started_ms"] == started, "a bad file restarted the engine"
    assert len(manager.lines()) == ready_before
    rejected = alarms(room, "config-rejected", "raised")
    assert len(rejected) == 1 and f"{room.site}:" in json.dumps(rejected[0]), rejected
    Room.wait(lambda: alarms(room, "instrument-fault", "raised"), 20, "the dead gauge was told meanwhile")
    print("30 bad files: refused, told once, nothing missed", flush=True)

    # The file in force again.
    room.site.write_text(second)
    out = room.command("reload")
    assert out.returncode == 0 and "nothing changed" in out.stdout, out
    Room.wait(lambda: alarms(room, "config-rejected", "cleared"), 10, "the refused file is forgotten")
    assert status(room)["started_ms"] == started

    # By signal, back to the first order; the relay goes with its line.
    assert WELL in good
    room.site.write_text(good.replace(WELL, ""))
    room.daemon.send_signal(signal.SIGHUP)
    Room.wait(lambda: restarted_since(room, started), 30, "SIGHUP takes the file over")
    assert room.coils(count=11)[10] == 0, "the relay is on without anybody who holds it"
    assert mode(room, "loading-dock") == "purge"
    assert room.daemon.pid == pid and room.daemon.poll() is None
    assert room.stop() == 0
    assert manager.lines()[-1] == "STOPPING=1", manager.lines()
    assert manager.longest_silence() < 25, "the watchdog was not fed for too long"
    journal = room.journal()
    seqs = [e["seq"] for e in journal]
    assert seqs == sorted(set(seqs)), "the journal's order"
    # What was said is what is kept, over all reloads.
    assert {e["seq"] for e in room.told()} <= set(seqs)
    assert "compare NOT equal" not in room.log()
    print("reload: all clear")
