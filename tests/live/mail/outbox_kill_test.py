#!/usr/bin/python3
"""kill -9 between decided, sent and recorded: each message arrives once, at worst twice and then marked as a repeat.
   outbox_kill_test.py RISERKEEP"""
import email
import email.policy
import sys
import time

from message_room import Room, messages, set_people
from smtp_peer import Peer, strict


def got(peer):
    """(Message-ID, marked as a repeat, subject) of everything taken, in order; the test messages left out."""
    out = []
    for text in peer.texts:
        m = email.message_from_bytes(strict(text), policy=email.policy.default)
        out.append((m["Message-ID"], "(may be a repeat)" in m["Subject"], m["Subject"]))
    return out


peer = Peer()
with Room(sys.argv[1]) as room:
    set_people(room, {"night": "{mail: night@example.org, for: all}"},
               f'mail: {{server: "smtp://127.0.0.1:{peer.port}", from: box@example.org, tls: none, time_out: 10 s}}\n')
    room.start()                                               # which is told
    Room.wait(lambda: len(peer.texts) >= 1, 20, "the start is told")
    Room.wait(lambda: messages(room)["undelivered"] == 0, 10, "nothing waits")
    time.sleep(1.5)

    # Recorded: it does not come again.
    first = got(peer)
    room.kill()
    room.start()
    time.sleep(3)
    assert got(peer) == first, "a message that was recorded came again"

    # Decided, not sent: the server is away. It comes after the next start, unmarked.
    peer.replies["greeting"] = "421 4.3.2 away"
    room.plant_says("fault freezer gauge dead")
    Room.wait(lambda: "421 4.3.2 away" in str(messages(room)["ways"]), 40, "a message waits")
    assert messages(room)["undelivered"] >= 1
    time.sleep(1.5)                                            # the failure is recorded
    room.kill()
    del peer.replies["greeting"]
    room.start()
    Room.wait(lambda: len(got(peer)) > len(first), 20, "what was decided before the kill arrives")
    Room.wait(lambda: messages(room)["undelivered"] == 0, 10, "nothing waits")
    second = got(peer)
    assert not any(repeat for _, repeat, _ in second), second
    time.sleep(1.5)

    # Sent, not recorded: the server took it and the program dies before the answer. It comes once more, marked.
    peer.stall = "text"
    room.plant_says("fault archive gauge dead")
    Room.wait(lambda: len(got(peer)) > len(second), 40, "a message is taken")
    doubtful = got(peer)[-1]
    room.kill()
    peer.stall = None
    room.start()
    Room.wait(lambda: [i for i, _, _ in got(peer)].count(doubtful[0]) == 2, 20, "it comes again")
    Room.wait(lambda: messages(room)["undelivered"] == 0, 20, "nothing waits")
    assert room.stop() == 0
    ids = [i for i, _, _ in got(peer)]
    for i in set(ids):
        copies = [repeat for j, repeat, _ in got(peer) if j == i]
        assert len(copies) <= (2 if i == doubtful[0] else 1), (i, got(peer))
        assert copies == [False, True][:len(copies)], (i, got(peer))
    notices = [e for e in room.journal() if e["kind"] == "notice" and "night" in e["to"]]
    print(f"{len(notices)} notices in the journal, {len(set(ids))} arrived, {len(ids) - len(set(ids))} twice and marked")
    assert len(set(ids)) == len(notices), (sorted(set(ids)), [(n["notice"], n["what"]) for n in notices])
peer.end()
