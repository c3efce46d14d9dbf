#!/usr/bin/python3
"""A live run, exported and replayed: every event line to the byte as the daemon printed it.
   exact_replay_test.py RISERKEEP"""
import subprocess
import sys
import time

from demo_room import Room

with Room(sys.argv[1]) as room:
    room.start()
    room.commission("loading-dock")
    assert room.command("mode", "loading-dock", "purge", "--by", "R. Fitter").returncode == 0
    room.plant_says("fault roof-void leak 40")
    time.sleep(15)
    room.kill()                             # a crash, a second start from a snapshot, and on
    room.start()
    time.sleep(5)
    assert room.command("lock", "freezer", "--by", "R. Fitter", "--why", "a test").returncode == 0
    room.plant_says("clear roof-void leak")
    room.plant_says("fault archive gauge dead")
    time.sleep(10)
    recording = room.folder / "inputs.log"

    def export():
        with open(recording, "wb") as out:
            subprocess.run([room.binary, "export", "inputs", "--state", str(room.state)], stdout=out, check=True, timeout=60)
        done = subprocess.run([room.binary, "replay", str(room.site), str(recording)], capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stderr
        return done.stdout.splitlines()

    def printed():
        return [line for n in range(1, room.runs + 1) for line in (room.folder / f"events-{n}.jsonl").read_text().split("\n")[:-1]]

    def journal():
        return subprocess.run([room.binary, "export", "events", "--state", str(room.state)], capture_output=True, text=True,
                              check=True, timeout=60).stdout.splitlines()

    room.kill()                             # so that nothing moves while the three are compared
    replayed, told, stored = export(), printed(), journal()
    assert len(replayed) > 10, f"only {len(replayed)} events were replayed"
    tail = stored[-len(replayed):]
    for got, want in zip(replayed, tail):
        assert got == want, f"replayed  {got}\njournaled {want}"
    assert set(told) <= set(stored), f"told, not in the journal: {sorted(set(told) - set(stored))[:3]}"
    overlap = [line for line in told if line in set(replayed)]
    assert len(overlap) > 10
    print(f"{len(replayed)} events replayed from {recording.stat().st_size} bytes, to the byte as journaled; {len(overlap)} of them seen printed")
