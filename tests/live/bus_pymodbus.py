"""An independent Modbus TCP server (python3-pymodbus) read end to end by the product's bus thread."""
import asyncio
import struct
import subprocess
import sys
import threading
import time

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartAsyncTcpServer

READER = sys.argv[1]


def words(fmt, value):
    raw = struct.pack(fmt, value)
    return [int.from_bytes(raw[i:i + 2], "big") for i in range(0, len(raw), 2)]


def swapped(registers):
    return [(r >> 8) | ((r & 0xFF) << 8) for r in registers]


inputs = [0] * 100
inputs[0], inputs[1] = 40123, words(">h", -1234)[0]
abcd = words(">f", 20.946)
inputs[10:12] = abcd
inputs[12:14] = abcd[::-1]
inputs[14:16] = swapped(abcd)
inputs[16:18] = swapped(abcd[::-1])
holding = [0] * 100
holding[20:22] = words(">i", -100000)
holding[22:24] = words(">I", 3000000000)[::-1]
discrete, coils = [0] * 16, [0] * 16
discrete[3] = coils[7] = 1
coils[4] = 1  # a vent left open by somebody

unit = ModbusSlaveContext(
    di=ModbusSequentialDataBlock(0, discrete), co=ModbusSequentialDataBlock(0, coils),
    ir=ModbusSequentialDataBlock(0, inputs), hr=ModbusSequentialDataBlock(0, holding), zero_mode=True)
context = ModbusServerContext(slaves={9: unit}, single=False)

import socket
with socket.socket() as probe:
    probe.bind(("127.0.0.1", 0))
    port = probe.getsockname()[1]


def serve():
    asyncio.run(StartAsyncTcpServer(context=context, address=("127.0.0.1", port)))


threading.Thread(target=serve, daemon=True).start()
for _ in range(100):
    try:
        socket.create_connection(("127.0.0.1", port), 0.2).close()
        break
    except OSError:
        time.sleep(0.05)
else:
    sys.exit("the server did not start")

reader = subprocess.Popen([READER, str(port)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
lines = []
for line in reader.stdout:
    lines.append(line.strip())
    if lines[-1] in ("ready", "failed"):
        break
open_seen = unit.getValues(1, 4, 1)[0]
reader.stdin.write("\n")
reader.stdin.flush()
code = reader.wait(15)

# auxiliary channels hold thousandths
want = {
    "0": "40123000 0", "1": "-1234000 0", "2": "20946 0", "3": "20946 0", "4": "20946 0", "5": "20946 0",
    "6": "-100000000 0", "7": "3000000000000 0", "8": "1000 0", "9": "1000 0", "10": "- 2",
}
got = dict(line.split(" ", 1) for line in lines if line[:1].isdigit())
problems = [f"channel {k}: wanted {v}, got {got.get(k)}" for k, v in want.items() if got.get(k) != v]
if not any(line.startswith("disabled analog 39001") for line in lines):
    problems.append("the missing register was not named")
if lines[-1:] != ["ready"] or code != 0:
    problems.append(f"the reader ended with {code}: {lines[-1:]}")
if not open_seen:
    problems.append("the server never saw the vent open")
if unit.getValues(1, 4, 1)[0]:
    problems.append("the vent was left open")
if problems:
    sys.exit("\n".join(problems))
print("11 points read alike, the vent opened, and closed on leaving")
