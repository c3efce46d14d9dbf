#!/usr/bin/python3
"""A real mail server (postfix) on a port of loopback, with a configuration and a queue of its own.
   postfix_test.py MAIL_SENDER"""
import email
import email.policy
import os
import pathlib
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
import time

from smtp_peer import certificate

postfix = shutil.which("postfix") or ("/usr/sbin/postfix" if os.path.exists("/usr/sbin/postfix") else None)
if not postfix or os.getuid() != 0:
    print("postfix is missing, or it cannot be started (it wants root): apt-get install postfix")
    sys.exit(77)

sender = sys.argv[1]
folder = pathlib.Path(tempfile.mkdtemp(prefix="riserkeep-postfix-"))
folder.chmod(0o755)
key, cert = certificate(folder)
with socket.socket() as s:
    s.bind(("127.0.0.1", 0))
    port = s.getsockname()[1]
user = pwd.getpwnam("postfix")
for name in ("etc", "queue", "data", "boxes"):
    (folder / name).mkdir()
for name in ("data", "boxes"):
    os.chown(folder / name, user.pw_uid, user.pw_gid)
(folder / "etc/boxes").write_text("night@example.org night\nworks@example.org works\n")
(folder / "etc/main.cf").write_text(f"""
compatibility_level = 3.6
queue_directory = {folder}/queue
data_directory = {folder}/data
maillog_file = {folder}/data/log
maillog_file_prefixes = {folder}
myhostname = localhost
mydestination =
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
virtual_mailbox_domains = example.org
virtual_mailbox_maps = texthash:{folder}/etc/boxes
virtual_mailbox_base = {folder}/boxes
virtual_minimum_uid = 1
virtual_uid_maps = static:{user.pw_uid}
virtual_gid_maps = static:{user.pw_gid}
smtpd_tls_cert_file = {cert}
smtpd_tls_key_file = {key}
smtpd_tls_security_level = encrypt
smtpd_relay_restrictions = reject_unauth_destination
smtpd_forbid_bare_newline = yes
message_size_limit = 100000
mailbox_size_limit = 1000000
""")
(folder / "etc/master.cf").write_text(f"""
127.0.0.1:{port} inet n - n - - smtpd
pickup unix n - n 60 1 pickup
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
tlsmgr unix - - n 1000? 1 tlsmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
error unix - - n - - error
virtual unix - n n - - virtual
proxymap unix - - n - - proxymap
anvil unix - - n - 1 anvil
postlog unix-dgram n - n - 1 postlogd
""")


def send(to, *options):
    out = subprocess.run([sender, f"smtp://localhost:{port}", "box@example.org", to, f"ca_file={cert}", *options],
                         capture_output=True, text=True, timeout=40)
    return out.stdout.strip()


def log():
    path = folder / "data/log"
    return path.read_text() if path.exists() else ""


server = subprocess.Popen([postfix, "-c", str(folder / "etc"), "start-fg"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
try:
    for _ in range(100):
        with socket.socket() as s:
            if s.connect_ex(("127.0.0.1", port)) == 0:
                break
        if server.poll() is not None:
            print("postfix does not start here: " + server.stdout.read().decode()[-800:] + log()[-800:])
            sys.exit(77)
        time.sleep(0.1)
    assert send("night@example.org") == "delivered no", log()
    gone = send("gone@example.org")
    assert gone.startswith("refused no 550 5.1.1") and "gone@example.org" in gone, gone
    assert send("works@example.org") == "delivered no"
    elsewhere = send("someone@example.net")
    assert elsewhere.startswith(("refused no 554", "later no 454")), elsewhere
    plain = send("night@example.org", "tls=none")
    assert plain.startswith("unreachable") and "530" in plain, plain
    big = send("night@example.org", "size=200000")
    assert big.startswith("refused no 552"), big
    for name in ("night", "works"):
        box = folder / "boxes" / name
        end = time.monotonic() + 15
        while not box.exists() and time.monotonic() < end:
            time.sleep(0.1)
        message = email.message_from_bytes(box.read_bytes().split(b"\n", 1)[1], policy=email.policy.default)
        assert message["Subject"] == "Dépôt: air is low" and message["To"] == f"{name}@example.org"
        assert message["Message-ID"] == "<QM-014.7.0.night@example.org>"
        assert "The air in Dépôt is low.\n.a line with a dot\n..two dots\n" in message.get_content(), message.get_content()
    print("two boxes filled, an unknown one refused with 550, clear text with 530, too large with 552")
finally:
    subprocess.run([postfix, "-c", str(folder / "etc"), "stop"], capture_output=True)
    try:
        server.wait(10)
    except subprocess.TimeoutExpired:
        server.kill()
    shutil.rmtree(folder, ignore_errors=True)
