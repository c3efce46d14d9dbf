#!/usr/bin/python3
"""`run` against a Modbus server that is not ours (pymodbus): the status shows what the registers hold.
   foreign_server_test.py RISERKEEP"""
import asyncio
import json
import pathlib
import subprocess
import sys
import tempfile
import threading
import time

from demo_room import SOURCE, Room, free_port
from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartAsyncTcpServer

binary, port = sys.argv[1], free_port()


def microamperes(value, top):
    return round(4000 + 16000 * value / top)


inputs = [microamperes(18.4, 100), microamperes(33.5, 100), microamperes(20.9, 25)] + [0] * 20
coils = [0, 1, 0, 0] + [0] * 8          # somebody left the second vent open
unit = ModbusSlaveContext(di=ModbusSequentialDataBlock(0, [0] * 16), co=ModbusSequentialDataBlock(0, coils),
                          ir=ModbusSequentialDataBlock(0, inputs), hr=ModbusSequentialDataBlock(0, [0] * 16), zero_mode=True)
context = ModbusServerContext(slaves={1: unit}, single=False)
threading.Thread(target=lambda: asyncio.run(StartAsyncTcpServer(context=context, address=("127.0.0.1", port))), daemon=True).start()
time.sleep(1)

with tempfile.TemporaryDirectory(prefix="riserkeep-foreign-") as folder:
    text = (SOURCE / "config/examples/minimal.yaml").read_text()
    for host in ("192.0.2.30", "192.0.2.31"):
        assert text.count(host) == 1
        text = text.replace(host, f'"127.0.0.1:{port}"')
    site = pathlib.Path(folder) / "site.yaml"
    site.write_text(text)
    log = open(pathlib.Path(folder) / "log", "w+")
    daemon = subprocess.Popen([binary, "run", str(site), "--state", folder], stderr=log)

    def status():
        out = subprocess.run([binary, "status", "--json", "--state", folder], capture_output=True, text=True, timeout=20)
        return json.loads(out.stdout) if out.returncode == 0 else None

    def seen():
        document = status()
        return document and [s["air"]["psi"] for s in document["systems"]]

    try:
        Room.wait(lambda: (p := seen()) and None not in p, 40, "both pressures are read")
        hall, yard = seen()
        assert abs(hall - 18.4) < 0.01 and abs(yard - 33.5) < 0.01, (hall, yard)
        assert all(link["state"] == "up" for link in status()["links"]), status()["links"]
        assert not any(unit.getValues(1, 0, 4)), "a vent found open is shut"
        log.seek(0)
        assert "yard vent: found, open" in log.read(), "the vent that was found open is told"
        unit.setValues(4, 0, [microamperes(17.0, 100)])
        Room.wait(lambda: abs(seen()[0] - 17.0) < 0.01, 30, "a change is followed")
        unit.setValues(4, 0, [2000])     # 2 mA: a broken loop is no pressure
        Room.wait(lambda: seen()[0] is None, 30, "a broken loop shows no number")
        daemon.terminate()
        assert daemon.wait(20) == 0
    except BaseException:
        log.seek(0)
        print(log.read()[-4000:])
        raise
    finally:
        if daemon.poll() is None:
            daemon.kill()
            daemon.wait()
print("pressures as the registers hold them, an open vent shut, a broken loop told")
