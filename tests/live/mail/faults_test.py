#!/usr/bin/python3
"""Servers that refuse, stall at each step, offer no TLS or the wrong certificate: the exact failure is named, in bounded time.
   faults_test.py MAIL_SENDER"""
import email
import email.policy
import pathlib
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor

from smtp_peer import Peer, certificate, strict

sender = sys.argv[1]
folder = pathlib.Path(tempfile.mkdtemp(prefix="riserkeep-mail-"))
key, cert = certificate(folder)
(folder / "pass").write_text("wrong\n")


def send(peer, *options, to="night@example.org", host="localhost", scheme="smtp"):
    out = subprocess.run([sender, f"{scheme}://{host}:{peer.port}", "box@example.org", to, *options], capture_output=True, text=True, timeout=55)
    kind, maybe, words = (out.stdout.strip() + "  ").split(" ", 2)
    return kind, maybe == "maybe", words.strip()


def expect(peer, kind, words, *options, maybe=False, **more):
    got = send(peer, *options, **more)
    assert got[0] == kind and words in got[2] and got[1] == maybe, f"expected {kind} '{words}' maybe={maybe}, got {got}"
    return got


# Without STARTTLS nothing leaves, not even the sender's name.
peer = Peer()
expect(peer, "unreachable", f"localhost:{peer.port} offers no STARTTLS, so nothing was sent")
assert not any(c.startswith("MAIL") for c in peer.commands), peer.commands
# Said so in the site file, it does.
expect(peer, "delivered", "", "tls=none")
message = email.message_from_bytes(strict(peer.texts[0]), policy=email.policy.SMTP)
assert message["Subject"] == "Dépôt: air is low" and message["To"] == "night@example.org", message["Subject"]
assert message["Date"].datetime.isoformat() == "2025-11-25T04:12:07-06:00", message["Date"]
assert message["Message-ID"] == "<QM-014.7.0.night@example.org>", message["Message-ID"]
assert "\n.a line with a dot" in message.get_content().replace("\r\n", "\n") and "Dépôt" in message.get_content()
assert any(c.startswith("MAIL FROM:<box@example.org> SIZE=") for c in peer.commands), peer.commands

# With it, and only with a certificate that leads to the authority named and bears the server's name.
peer = Peer(tls=(key, cert))
expect(peer, "delivered", "", f"ca_file={cert}")
assert peer.over_tls and len(peer.texts) == 1
expect(peer, "unreachable", "certificate of")
other = folder / "other"
other.mkdir()
foreign = Peer(tls=certificate(other, "mail.example.net"))
expect(foreign, "unreachable", "certificate of", f"ca_file={other}/cert.pem")
assert not foreign.texts

# Refusals in the server's own words; 4xx is for later, 5xx at the recipient is for good, at the sender it is the server's trouble.
for replies, kind, words in [
        ({"RCPT": "451 4.7.1 Greylisted, try again later"}, "later", "451 4.7.1 Greylisted, try again later"),
        ({"RCPT": "550 5.1.1 no such user"}, "refused", "550 5.1.1 no such user"),
        ({"text": "554 5.7.1 looks like spam"}, "refused", "554 5.7.1 looks like spam"),
        ({"text": "452 4.3.1 disk full"}, "later", "452 4.3.1 disk full"),
        ({"MAIL": "550 5.7.0 not from here"}, "unreachable", "naming the sender: 550 5.7.0 not from here"),
        ({"greeting": "554 no service"}, "unreachable", "554 no service"),
        ({"RCPT": "421 4.3.2 shutting down"}, "unreachable", "421 4.3.2 shutting down")]:
    expect(Peer(replies), kind, words, "tls=none")

# A wrong password is named as such.
login = Peer({"AUTH": "535 5.7.8 authentication failed"}, ehlo=("localhost", "AUTH PLAIN"))
expect(login, "unreachable", "refuses the user or the password: 535 5.7.8 authentication failed", "tls=none", "user=box", f"password_file={folder}/pass")
expect(login, "unreachable", "password_file /nowhere/pass: No such file", "tls=none", "user=box", "password_file=/nowhere/pass")
nobody = Peer()
nobody.end()
expect(nobody, "unreachable", "connect", "tls=none")
expect(Peer(), "unreachable", "Could not resolve host", "tls=none", host="no-such-host.invalid")

# CR LF in an address would be a command of its own.
peer = Peer()
expect(peer, "refused", "not a mail address", "tls=none", to="night@example.org>\r\nRCPT TO:<other@example.org")
assert not peer.commands

# Silence at each step ends by the time-out; only after the whole text may the message have arrived.
steps = {"greeting": "greeting", "EHLO": "EHLO", "MAIL": "sender", "RCPT": "recipient", "DATA": "announcing the text", "text": "answer to the text"}


def stalled(step):
    begun = time.monotonic()
    expect(Peer(stall=step), "unreachable", steps[step], "tls=none", "time_out=4000", maybe=step == "text")
    return time.monotonic() - begun


with ThreadPoolExecutor(6) as pool:
    took = list(pool.map(stalled, steps))
assert max(took) < 12, took
begun = time.monotonic()
expect(Peer(stall="STARTTLS", tls=(key, cert)), "unreachable", "starting TLS", f"ca_file={cert}", "time_out=4000")
assert time.monotonic() - begun < 12
# A connection that breaks after the text leaves the same doubt.
expect(Peer(close="text"), "unreachable", "answer to the text", "tls=none", maybe=True)
expect(Peer(close="RCPT"), "unreachable", "recipient", "tls=none")

# Sizes around 64 KiB, to the byte; one that the server says is too large is refused before the text.
for size in (65535, 65536, 65537):
    peer = Peer()
    expect(peer, "delivered", "", "tls=none", f"size={size}")
    assert len(strict(peer.texts[0])) == size, (len(strict(peer.texts[0])), size)
peer = Peer({"MAIL": "552 5.3.4 message too big"})
expect(peer, "refused", "552 5.3.4 message too big", "tls=none", "size=65536")
print(f"stalls ended after {min(took):.1f} to {max(took):.1f} s at a time-out of 4 s; all failures named")
