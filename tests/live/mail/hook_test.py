#!/usr/bin/python3
"""Posts and the heartbeat by HTTPS, notify-test over the real path with the exact failure named.
   hook_test.py RISERKEEP"""
import hashlib
import hmac
import http.server
import json
import pathlib
import signal
import ssl
import sys
import tempfile
import threading
import time

from message_room import Room, set_people
from smtp_peer import Peer, certificate

folder = pathlib.Path(tempfile.mkdtemp(prefix="riserkeep-hook-"))
key, cert = certificate(folder)
(folder / "hook.key").write_text("the secret\n")
(folder / "mail.pass").write_text("wrong\n")
posts, beats, status = [], [], [200]


class Hook(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        posts.append((dict(self.headers), body))
        self.answer(status[0])

    def do_GET(self):
        beats.append(time.monotonic())
        self.answer(200)

    def answer(self, code):
        self.send_response(code)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_):
        pass


server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Hook)
context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain(cert, key)
server.socket = context.wrap_socket(server.socket, server_side=True)
threading.Thread(target=server.serve_forever, daemon=True).start()
url = f"https://localhost:{server.server_port}"
login = Peer({"AUTH": "535 5.7.8 authentication failed"}, ehlo=("localhost", "AUTH PLAIN"))

with Room(sys.argv[1]) as room:
    set_people(room, {"desk": f'{{hook: "{url}/desk", for: all}}', "night": "{mail: night@example.org, for: all}"},
               f'mail: {{server: "smtp://127.0.0.1:{login.port}", from: box@example.org, user: box, password_file: {folder}/mail.pass, tls: none, time_out: 10 s}}\n'
               f'hook: {{secret_file: {folder}/hook.key, ca_file: {cert}}}\n'
               f'heartbeat: {{url: "{url}/alive", every: 10 s, ca_file: {cert}}}\n')
    room.start()
    Room.wait(lambda: len(beats) >= 1, 10, "the heartbeat is heard")
    done = room.command("notify-test", "desk", "--by", "R. Fitter")
    assert done.returncode == 0 and f"desk: delivered to {url}/desk." in done.stdout, (done.stdout, done.stderr)
    tests = [(h, b) for h, b in posts if json.loads(b)["kind"] == "test"]
    assert len(tests) == 1
    headers, body = tests[0]
    wanted = hmac.new(b"the secret", headers["Riserkeep-Time"].encode() + b"." + body, hashlib.sha256).hexdigest()
    assert headers["Riserkeep-Signature"] == "sha256=" + wanted
    assert headers["Idempotency-Key"].startswith("HD-002-") and headers["Idempotency-Key"].endswith("-desk")
    document = json.loads(body)
    assert document["person"] == "desk" and document["stored"] and not document["may_be_a_repeat"], document

    failed = room.command("notify-test", "night")
    assert failed.returncode == 1 and "refuses the user or the password: 535 5.7.8 authentication failed" in failed.stderr, failed.stderr
    both = room.command("notify-test")
    assert both.returncode == 1 and "desk: delivered" in both.stdout and "night: not delivered" in both.stderr, (both.stdout, both.stderr)
    nobody = room.command("notify-test", "someone")
    assert nobody.returncode == 2 and "there are: desk, night" in nobody.stderr, nobody.stderr
    status[0] = 503
    away = room.command("notify-test", "desk")
    assert away.returncode == 1 and "HTTP status 503" in away.stderr, away.stderr
    status[0] = 200
    text = room.command("status").stdout
    assert "authentication failed" in " ".join(text.split()), text

    # A program that hangs stays silent: that is the message.
    Room.wait(lambda: len(beats) >= 2, 15, "the next heartbeat")
    room.daemon.send_signal(signal.SIGSTOP)
    before = len(beats)
    time.sleep(12)
    assert len(beats) == before
    room.daemon.send_signal(signal.SIGCONT)
    Room.wait(lambda: len(beats) > before, 15, "the heartbeat is back")
    assert room.stop() == 0
    print(f"{len(posts)} posts, all signed; {len(beats)} heartbeats; failures named")
login.end()
server.shutdown()
