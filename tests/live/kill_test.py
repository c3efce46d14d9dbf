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


DEVICE_TIME_OUT = 20                         # seconds, as in the room's site file


def key(event):
    return (event["seq"], event["kind"], event.get("change"), event.get("alarm"), event.get("order"))


with Room(binary) as room:
    room.start()
    time.sleep(8)
    for system in SYSTEMS[:2]:               # a short pulse each; purging starts after both
        room.commission(system)
    for system in SYSTEMS[:2]:
        assert room.command("mode", system, "purge", "--by", "R. Fitter").returncode == 0
    print("commissioned, purging", flush=True)
    acknowledged, found_open = [], 0

    def unacknowledged():
        raised = (e["reference"] for e in room.told() if e["kind"] == "alarm" and e["change"] == "raised")
        return [r for r in raised if r not in acknowledged]

    for n in range(kills):
        watching = SYSTEMS[2 + n // 10 % 2]  # something to acknowledge; meanwhile no neighbour vents
        if n % 10 == 8:
            room.plant_says(f"fault {watching} gauge dead")
        if rng.random() < 0.5:
            room.plant_says(rng.choice(["fault loading-dock leak 40", "clear loading-dock leak",
                                        "fault roof-void waterflow", "clear roof-void waterflow"]))
        time.sleep(rng.uniform(0.3, 4.0))
        if n % 10 == 9:                      # time for an alarm; the kill follows its acknowledgement closely
            end = time.monotonic() + 90
            while not unacknowledged() and time.monotonic() < end:
                time.sleep(0.2)
        for reference in unacknowledged()[:1]:
            if room.command("ack", reference, "--by", "N. Porter").returncode == 0:
                acknowledged.append(reference)
        if n % 10 == 9:
            room.plant_says(f"clear {watching} gauge dead")
        if n % 2:                            # every second kill with a vent open, if one opens soon
            end = time.monotonic() + 20
            while not any(room.coils()[:4]) and time.monotonic() < end:
                time.sleep(0.1)
        time.sleep(rng.uniform(0, 0.5))
        log_before = len(room.log())
        room.kill()
        still_on = [s for i, s in enumerate(SYSTEMS) if room.coils()[i]]
        found_open += bool(still_on)
        room.start()
        for system in still_on:
            Room.wait(lambda: f"{system} vent: found, open" in room.log()[log_before:], 10, f"the open vent of {system} is logged")
    Room.wait(lambda: any(room.coils()[:4]), 180, "a vent opens once more")
    room.kill()
    died, on = time.monotonic(), any(room.coils()[:4])
    time.sleep(died + DEVICE_TIME_OUT + 2 - time.monotonic())   # in silence: every request would feed the relays
    assert not any(room.coils()), "the relays hold a vent open that nobody answers for"
    print(f"nobody there: relays off {time.monotonic() - died:.1f} s after the kill, a vent was open: {on}", flush=True)
    assert on, "the vent closed before the kill could be"
    room.start()
    assert room.stop() == 0
    journal = room.journal()
    in_journal = {key(e) for e in journal}
    lost = [e for e in room.told() if key(e) not in in_journal]
    assert not lost, f"{len(lost)} events were told and are not in the journal, first {lost[0]}"
    acks = {e["reference"] for e in journal if e["kind"] == "alarm" and e["change"] == "acknowledged"}
    assert acknowledged, "no alarm was acknowledged in all this time"
    assert set(acknowledged) <= acks, f"acknowledgements lost: {set(acknowledged) - acks}"
    compares = room.log().count("compare equal")
    assert compares >= kills, f"{compares} of {kills} restarts compared equal"
    assert "compare: mismatch" not in room.log()
    seqs = [e["seq"] for e in journal]
    assert seqs == sorted(seqs) and len(set(seqs)) == len(seqs), "the journal's order"
    print(f"{kills} kills, {found_open} with a coil on, {len(acknowledged)} acknowledgements, {len(journal)} events: nothing lost")
