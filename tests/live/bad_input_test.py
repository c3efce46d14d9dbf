#!/usr/bin/python3
"""Bad input by hand, as a fitter would meet it: a clear message, the right exit code, the program goes on where it can.
   bad_input_test.py RISERKEEP"""
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

from demo_room import SOURCE, Room

binary = sys.argv[1]
examples = SOURCE / "config/examples"
folder = pathlib.Path(tempfile.mkdtemp(prefix="riserkeep-bad-"))


def run(*words, **more):
    return subprocess.run([binary, *map(str, words)], capture_output=True, text=True, timeout=60, **more)


def expect(done, code, *needles):
    said = done.stdout + done.stderr
    assert done.returncode == code, f"exit {done.returncode}, expected {code}: {said[-1500:]}"
    for needle in needles:
        assert needle in said, f"'{needle}' is not in: {said[-1500:]}"
    assert "terminate called" not in said
    return said


def six_mistakes():
    text = (examples / "quillmere.yaml").read_text()
    for good, bad in (("format: 1", "format: 01"), ("cut_in: 35 psi", "cut_inn: 35 psi"), ("span: 0 to 200 psi", "span: 0 to 200"),
                      ("unit: 3,", "unit: 0,"), ("highest_water: 100 psi", "highest_water: .nan psi"), ("target: 98 %", "target: 101 %")):
        assert good in text, good
        text = text.replace(good, bad, 1)
    site = folder / "six.yaml"
    site.write_text(text)
    said = expect(run("check", site), 2, "six.yaml:")
    for word in ("format", "cut_inn", "cut_in", "span", "unit", "highest_water", "target"):
        assert word in said, f"{word} is not named in: {said}"
    places = {line.split(": ")[0] for line in said.splitlines() if line.startswith(str(site))}
    assert len(places) >= 6, f"six mistakes, {len(places)} places: {said}"


def missing_and_wrong_files():
    expect(run("check", folder / "nothing.yaml"), 2, "nothing.yaml")
    expect(run("check", folder), 2)
    (folder / "binary.yaml").write_bytes(bytes(range(256)))
    expect(run("check", folder / "binary.yaml"), 2, "binary.yaml")
    expect(run("frobnicate"), 2)
    expect(run("replay", examples / "demo.yaml", folder / "nothing.csv"), 1, "nothing.csv")


def damaged_recordings():
    good = "time,point,signal,value,quality\n" + "".join(
        f"2031-10-13T01:00:{s:02d}.000Z,loading-dock,pressure,38.{s:03d},good\n" for s in range(60))
    cut = folder / "cut.csv"
    cut.write_text(good[:-20])
    expect(run("replay", examples / "demo.yaml", cut), 1, "cut.csv", "61")
    noise = folder / "noise.csv"
    noise.write_bytes(os.urandom(4096))
    expect(run("replay", examples / "demo.yaml", noise), 1, "noise.csv")
    whole = folder / "whole.csv"
    whole.write_text(good)
    expect(run("replay", examples / "demo.yaml", whole), 0)


def nobody_there():
    expect(run("status", "--state", folder), 3)
    with Room(binary) as room:
        other = run("plant", room.site, "--port", room.port, "--demo", stdin=subprocess.DEVNULL)
        expect(other, 1, str(room.port))
        room.start()
        second = run("run", room.site, "--state", room.state)
        expect(second, 1, "state")
        refused = room.command("mode", "loading-dock", "purge", "--by", "R. Fitter")
        assert refused.returncode == 4 and "commission" in refused.stdout + refused.stderr, refused
        unknown = room.command("why", "loading-dok")
        assert unknown.returncode == 2 and "there are: loading-dock" in unknown.stdout + unknown.stderr, unknown
        for words in (("mode", "loading-dok", "purge", "--by", "R. Fitter"), ("commission", "loading-dok", "--by", "R. Fitter", "--yes")):
            expect(room.command(*words), 2, "there are: loading-dock")
        room.plant.terminate()          # the devices are gone: polling and judging go on
        room.plant.wait()
        time.sleep(3)
        status = room.command("status")
        assert status.returncode == 0, status
        assert room.stop() == 0


def devices_absent_from_the_start():
    with Room(binary) as room:
        room.plant.terminate()
        room.plant.wait()
        room.start()
        time.sleep(2)
        status = room.command("status")
        assert status.returncode == 0 and "no reading" in status.stdout, status.stdout
        assert room.stop() == 0


def read_only_state():
    with Room(binary) as room:
        expect(run("run", room.site, "--state", "/proc/riserkeep"), 1, "/proc/riserkeep")


def full_disk():
    if os.geteuid() != 0:
        print("full disk: needs root for a small tmpfs, skipped")
        return
    with Room(binary) as room:
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=6m", "none", str(room.state)], check=True)
        try:
            room.start()
            time.sleep(4)
            with open(room.state / "ballast", "wb") as ballast:
                try:
                    while True:
                        ballast.write(b"x" * 65536)
                        ballast.flush()
                except OSError:
                    pass
            def history(change):
                return any(e["kind"] == "alarm" and e["alarm"] == "history-fault" and e["change"] == change for e in room.told())
            Room.wait(lambda: history("raised"), 40, "the full disk is told")
            before = room.engine_ms()
            time.sleep(2)
            assert room.engine_ms() > before, "judging stands still"
            os.remove(room.state / "ballast")
            Room.wait(lambda: history("cleared"), 90, "it is told well again")
            assert room.stop() == 0
        finally:
            if room.daemon.poll() is None:
                room.daemon.kill()
                room.daemon.wait()
            subprocess.run(["umount", str(room.state)], check=True)


for step in (six_mistakes, missing_and_wrong_files, damaged_recordings, nobody_there, devices_absent_from_the_start, read_only_state, full_disk):
    print(step.__name__, flush=True)
    step()
shutil.rmtree(folder)
print("bad input: all clear")
