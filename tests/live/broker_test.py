#!/usr/bin/python3
"""A real broker (mosquitto): measurements in, states and events out, the last will, and retained values of unknown age.
   broker_test.py RISERKEEP"""
import json
import shutil
import subprocess
import sys
import time

from demo_room import Room, free_port

if not (shutil.which("mosquitto") or shutil.which("/usr/sbin/mosquitto")) or not shutil.which("mosquitto_sub"):
    print("mosquitto or its clients are missing: apt-get install mosquitto mosquitto-clients")
    sys.exit(77)

port = free_port()
HOST = ["-h", "127.0.0.1", "-p", str(port)]
TOP = "riserkeep/HD-002/"


def say(topic, document, *more):
    subprocess.run(["mosquitto_pub", *HOST, "-t", topic, "-m", json.dumps(document), *more], check=True, timeout=10)


def now():
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())


def replaced(text, before, after):
    assert text.count(before) == 1, before
    return text.replace(before, after)


class Listener:
    def __init__(self, folder):
        self.file = folder / "heard"
        self.process = subprocess.Popen(["mosquitto_sub", *HOST, "-t", TOP + "#", "-q", "1", "-F", "%r\t%t\t%p"], stdout=open(self.file, "w"))

    def heard(self, topic):
        lines = [line.split("\t", 2) for line in self.file.read_text().split("\n")[:-1]]
        return [(retained == "1", payload) for retained, t, payload in lines if t == TOP + topic]

    def last(self, topic):
        heard = self.heard(topic)
        return heard[-1][1] if heard else ""

    def close(self):
        self.process.terminate()
        self.process.wait()


def retained_now(topic):
    return subprocess.run(["mosquitto_sub", *HOST, "-t", TOP + topic, "-C", "1", "-W", "5"], capture_output=True, text=True).stdout.strip()


def room_oxygen(room):
    return json.loads(room.command("status", "--json").stdout)["rooms"][0]["oxygen"]


with Room(sys.argv[1]) as room:
    text = room.site.read_text()
    text = replaced(text, "\nlinks:\n", f'\nlinks:\n  broker: {{mqtt: "mqtt://127.0.0.1:{port}"}}\n')
    text = replaced(text, "room_oxygen: {at: analog 30013, span: 0 to 25 %}",
                    'room_oxygen: {link: broker, topic: house/room, unit: "%", value: /oxygen/value, time: /at, stale_after: 6 s, poll: 2 s}')
    text = replaced(text, "air: {at: analog 30004, ", "air: {at: {link: broker, topic: house/archive, unit: psi, value: /air/psi, time: /at, "
                    "stale_after: 6 s, poll: 2 s}, ")
    room.site.write_text(text)
    (room.folder / "broker.conf").write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n")
    broker = subprocess.Popen([shutil.which("mosquitto") or "/usr/sbin/mosquitto", "-c", str(room.folder / "broker.conf")],
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    listener = None
    try:
        Room.wait(lambda: subprocess.run(["mosquitto_pub", *HOST, "-t", "x", "-n"], capture_output=True).returncode == 0, 10, "the broker listens")
        say("house/room", {"oxygen": {"value": 14.0}}, "-r")      # low, but nobody knows since when
        listener = Listener(room.folder)
        room.start()
        Room.wait(lambda: "link broker is up" in room.log(), 15, "the broker is reached")
        time.sleep(3)
        assert room_oxygen(room)["value"] is None, room_oxygen(room)
        assert not any(e["kind"] == "alarm" and "oxygen" in e["alarm"] for e in room.told()), "a retained value of unknown age raised an alarm"

        def fed():
            say("house/room", {"oxygen": {"value": 20.7}, "at": now()})
            say("house/archive", {"air": {"psi": 31.25}, "at": now()})
            return room_oxygen(room)["value"] == 20.7 and room.gauge("archive") == 31.25
        Room.wait(fed, 20, "oxygen and pressure come by topic")
        Room.wait(lambda: fed() and json.loads(listener.last("systems/archive") or '{"air": {"psi": 0}}')["air"]["psi"] == 31.25, 75,
                  "the system's state is published")
        assert json.loads(retained_now("systems/archive"))["id"] == "archive", "the state is retained"
        assert json.loads(retained_now("box"))["status"] == "online"
        assert room.command("lock", "archive", "--by", "R. Fitter", "--why", "a test").returncode == 0
        Room.wait(lambda: len(listener.heard("events")) == len(room.told()) > 0, 15, "events are published")
        time.sleep(8)                                            # the topic falls silent: it must be told
        assert room.gauge("archive") is None
        Room.wait(lambda: len(listener.heard("events")) == len(room.told()), 10, "events are published")
        assert [json.loads(p) for _, p in listener.heard("events")] == room.told(), "the broker's events are those printed"
        assert not any(r for r, _ in listener.heard("events")), "an event is not retained"

        room.kill()
        Room.wait(lambda: listener.last("box") == "offline", 15, "the last will")
        assert retained_now("box") == "offline"
        room.start()
        Room.wait(lambda: listener.last("box").startswith("{"), 15, "online again")
        assert room.stop() == 0
        Room.wait(lambda: listener.last("box") == "offline", 10, "offline is said on leaving")
        print(f"{len(listener.heard('events'))} events, {len(listener.heard('systems/archive'))} states of one system: as printed")
    finally:
        if listener:
            listener.close()
        broker.terminate()
        broker.wait()
