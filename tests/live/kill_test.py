#!/usr/bin/python3
"""kill -9 at random moments under load: nothing that took effect is lost, every restart compares equal, vents are closed.
   kill_test.py RISERKEEP [KILLS] [SEED]"""
import random
import sys
import time

from demo_room import Room, SYSTEMS

binary, kills = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 20
seed = int(sys.argv[3]) if len(sys.argv) > 3 else time.time_ns() % 1_000_000
print(f"seed {seed}, {kills} kills", flush=True)
rng = random.Random(seed)


def key(event):
    return (event["seq"], event["kind"], event.get("change"), event.get("alarm"), event.get("order"))


with Room(binary) as room:
    room.start()
    time.sleep(8)
    for system in SYSTEMS:
        done = room.command("commission", system, "--by", "R. Fitter", "--yes", timeout=180)
        print(system, done.returncode, (done.stdout + done.stderr).strip().splitlines()[-1:])
        room.command("mode", system, "purge", "--by", "R. Fitter")
    acknowledged, found_open = [], 0
    for n in range(kills):
        if rng.random() < 0.5:
            room.plant_says(rng.choice(["fault loading-dock leak 40", "clear loading-dock leak", "fault freezer gauge dead",
                                        "clear freezer gauge dead", "fault roof-void waterflow", "clear roof-void waterflow"]))
        time.sleep(rng.uniform(0.3, 4.0))
        standing = [e for e in room.told() if e["kind"] == "alarm" and e["change"] == "raised"]
        if standing:
            reference = rng.choice(standing)["reference"]
            if room.command("ack", reference, "--by", "N. Porter").returncode == 0:
                acknowledged.append(reference)
        time.sleep(rng.uniform(0, 0.5))
        found_open += any(room.coils())
        room.kill()
        room.start()
        Room.wait(lambda: not any(room.coils()[:4]) or room.told()[-1]["kind"] == "vent", 30, "vents are shut after the start")
    assert room.stop() == 0
    journal = room.journal()
    in_journal = {key(e) for e in journal}
    lost = [e for e in room.told() if key(e) not in in_journal]
    assert not lost, f"{len(lost)} events were told and are not in the journal, first {lost[0]}"
    acks = {e["reference"] for e in journal if e["kind"] == "alarm" and e["change"] == "acknowledged"}
    assert set(acknowledged) <= acks, f"acknowledgements lost: {set(acknowledged) - acks}"
    compares = room.log().count("compare equal")
    assert compares >= kills, f"{compares} of {kills} restarts compared equal"
    assert "compare: mismatch" not in room.log()
    seqs = [e["seq"] for e in journal]
    assert seqs == sorted(seqs) and len(set(seqs)) == len(seqs), "the journal's order"
    print(f"{kills} kills, {found_open} with a coil on, {len(acknowledged)} acknowledgements, {len(journal)} events: nothing lost")
