#!/usr/bin/python3
"""A library's server (aiosmtpd) with STARTTLS and log-in: what it parses is what was meant; wrong password, 550 for one of
three recipients, greylisting, a size limit.
   aiosmtpd_test.py MAIL_SENDER"""
import email
import email.policy
import pathlib
import socket
import ssl
import subprocess
import sys
import tempfile

try:
    from aiosmtpd.controller import Controller
    from aiosmtpd.smtp import AuthResult
except ImportError:
    print("aiosmtpd is missing: apt-get install python3-aiosmtpd")
    sys.exit(77)

from smtp_peer import certificate

sender = sys.argv[1]
folder = pathlib.Path(tempfile.mkdtemp(prefix="riserkeep-mail-"))
key, cert = certificate(folder)
(folder / "right").write_text("s3cret words\n")
(folder / "wrong").write_text("guess\n")


class Box:
    def __init__(self):
        self.taken, self.seen = [], {}

    async def handle_RCPT(self, server, session, envelope, address, options):
        self.seen[address] = self.seen.get(address, 0) + 1
        if address.startswith("gone@"):
            return "550 5.1.1 no such user here"
        if address.startswith("grey@") and self.seen[address] == 1:
            return "451 4.7.1 greylisted, come back"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        self.taken.append((list(envelope.rcpt_tos), envelope.content, session.ssl is not None, session.authenticated))
        return "250 taken"


def authenticator(server, session, envelope, mechanism, data):
    good = mechanism in ("PLAIN", "LOGIN") and data.login == b"box" and data.password == b"s3cret words"
    return AuthResult(success=good, handled=good)      # not handled: the server says 535 itself


context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain(cert, key)
box = Box()
with socket.socket() as s:
    s.bind(("127.0.0.1", 0))
    port = s.getsockname()[1]
controller = Controller(box, hostname="127.0.0.1", port=port, tls_context=context, require_starttls=True, authenticator=authenticator,
                        auth_required=True, data_size_limit=100_000)
controller.start()


def send(to, password="right", *options):
    out = subprocess.run([sender, f"smtp://localhost:{port}", "box@example.org", to, "user=box", f"password_file={folder}/{password}",
                          f"ca_file={cert}", *options], capture_output=True, text=True, timeout=40)
    return out.stdout.strip()


try:
    for to in ("night@example.org", "gone@example.org", "works@example.org"):
        told = send(to)
        wanted = "refused no 550 5.1.1 no such user here" if to.startswith("gone") else "delivered no"
        assert told == wanted, (to, told)
    assert [t[0] for t in box.taken] == [["night@example.org"], ["works@example.org"]], box.taken
    assert all(over_tls and logged_in for _, _, over_tls, logged_in in box.taken)
    for _, content, _, _ in box.taken:
        message = email.message_from_bytes(content, policy=email.policy.SMTP)
        assert not message.defects and message["Subject"] == "Dépôt: air is low" and message.get_content_charset() == "utf-8"
        text = message.get_content().replace("\r\n", "\n")
        assert "The air in Dépôt is low.\n.a line with a dot\n..two dots\n" in text, text
        assert "Time: Tue 25 Nov 2025 04:12:07 CST" in text and "riserkeep ack 7K6 --by NAME" in text, text
    wrong = send("night@example.org", "wrong")
    assert wrong.startswith("unreachable no") and "refuses the user or the password: 535" in wrong, wrong
    assert send("grey@example.org") == "later no 451 4.7.1 greylisted, come back"
    assert send("grey@example.org") == "delivered no"
    assert send("night@example.org", "right", "size=65536") == "delivered no"
    big = send("night@example.org", "right", "size=100001")
    assert big.startswith("refused no 552"), big
    print(f"{len(box.taken)} messages taken over TLS, wrong password, 550, 451 and 552 named")
finally:
    controller.stop()
