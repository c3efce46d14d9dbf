#!/usr/bin/python3
"""The simulated riser room against an independent Modbus client: mbpoll, on loopback, bounded in time."""

import re
import signal
import subprocess
import sys
import time

BINARY, SITE = sys.argv[1], sys.argv[2]


def check(condition, what):
    if not condition:
        sys.exit(f"failed: {what}")


def mbpoll(port, unit, table, first, *more):
    """Runs mbpoll once; `first` counts from 1. Returns (exit code, {address: value})."""
    command = ["mbpoll", "-m", "tcp", "-p", str(port), "-a", str(unit), "-t", table, "-r", str(first), "-1", "-o", "2"]
    options = [m for m in more if m.startswith("-")]
    values = [m for m in more if not m.startswith("-")]
    out = subprocess.run(command + options + ["127.0.0.1"] + values, capture_output=True, text=True, timeout=20)
    read = {int(a): float(v) for a, v in re.findall(r"^\[(\d+)\]:\s+(-?[\d.]+)", out.stdout, re.M)}
    return out.returncode, read


class Plant:
    def __init__(self, port=0):
        self.process = subprocess.Popen([BINARY, "plant", SITE, "--port", str(port)], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.said = ""
        for line in self.process.stderr:
            self.said += line
            found = re.search(r"127\.0\.0\.1 port (\d+)", line)
            if found:
                self.port = int(found.group(1))
                return
        self.process.wait(10)
        self.port = None

    def says(self, command):
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()

    def end(self):
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(10)


def main():
    plant = Plant()
    try:
        check(plant.port, f"the plant tells its port: {plant.said}")
        code, pressure = mbpoll(plant.port, 3, "3", 1, "-c4")
        check(code == 0 and len(pressure) == 4, f"four pressures: {pressure}")
        for counts in pressure.values():  # 4-20 mA in microamperes, 0 to 200 psi
            psi = (counts - 4000) / 16000 * 200
            check(20 < psi < 45, f"{counts} is {psi} psi, within the switches of the four systems")

        code, oxygen = mbpoll(plant.port, 7, "3", 1)
        check(abs(oxygen[1] / 100 - 20.946) < 0.8, f"the analyser stands in air: {oxygen}")

        code, _ = mbpoll(plant.port, 1, "0", 1, "1")
        check(code == 0, "coil 1 taken")
        code, coil = mbpoll(plant.port, 1, "0", 1)
        check(coil == {1: 1}, f"coil 1 reads back: {coil}")

        code, _ = mbpoll(plant.port, 1, "4", 101, "2")  # the unit drops its coils after 2 s of silence
        check(code == 0, "time-out register taken")
        code, register = mbpoll(plant.port, 1, "4", 101)
        check(register == {101: 2}, f"time-out register reads back: {register}")
        time.sleep(2.5)
        code, coil = mbpoll(plant.port, 1, "0", 1)
        check(coil == {1: 0}, f"the watchdog has dropped coil 1: {coil}")

        code, nothing = mbpoll(plant.port, 3, "3", 5000)
        check(code != 0 and not nothing, "an address that is not there is refused")
        check(plant.says("fault unit 3 silent") == "now: unit 3 silent", "fault taken")
        code, nothing = mbpoll(plant.port, 3, "3", 1)
        check(code != 0 and not nothing, "a silent unit does not answer")
        check("is no place" in plant.says("fault attic leak 1"), "bad words are explained")

        second = Plant(plant.port)
        check(second.port is None and second.process.returncode == 1, "a port in use ends with exit code 1")
        check("in use" in second.said, f"and says so: {second.said}")
    finally:
        code = plant.end()
    check(code == 0, f"SIGTERM ends it with 0, not {code}")
    print("plant and mbpoll agree")


main()
