"""A little SMTP server of our own that does one thing wrong, or stops answering at one step."""
import socket
import ssl
import subprocess
import threading
import time


def certificate(folder, name="localhost"):
    key, cert = folder / "key.pem", folder / "cert.pem"
    subprocess.run(["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", str(key), "-out", str(cert), "-days", "2",
                    "-subj", f"/CN={name}", "-addext", f"subjectAltName=DNS:{name},IP:127.0.0.1"], check=True, capture_output=True)
    return key, cert


class Peer:
    """`replies` by verb, e.g. {"RCPT": "550 5.1.1 no such user"}; `stall` a verb, "greeting" or "text": silent from there on;
    `close` likewise: the connection ends there."""

    def __init__(self, replies=None, stall=None, close=None, tls=None, ehlo=("localhost", "8BITMIME", "SIZE 200000")):
        self.replies, self.stall, self.close, self.tls, self.ehlo = replies or {}, stall, close, tls, ehlo
        self.commands, self.texts, self.over_tls = [], [], False
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        self.threads = []
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                client, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self.talk, args=(client,), daemon=True).start()

    def halts(self, step, client):
        if self.stall == step:
            time.sleep(120)
        if self.close == step:
            client.close()
            return True
        return self.stall == step

    def talk(self, client):
        try:
            self.dialogue(client)
        except OSError:
            pass

    def dialogue(self, client):
        if self.halts("greeting", client):
            return
        over_tls = False
        client.sendall((self.replies.get("greeting", "220 peer ready") + "\r\n").encode())
        lines = client.makefile("rb")
        while True:
            line = lines.readline()
            if not line:
                return
            assert line.endswith(b"\r\n"), f"a command without CRLF: {line!r}"
            verb = line.split()[0].decode().split(":")[0].upper()
            self.commands.append(line.decode().strip())
            if self.halts(verb, client):
                return
            if verb in self.replies:
                client.sendall((self.replies[verb] + "\r\n").encode())
            elif verb == "EHLO":
                words = list(self.ehlo) + (["STARTTLS"] if self.tls and not over_tls else [])
                client.sendall("".join(f"250{'-' if i + 1 < len(words) else ' '}{w}\r\n" for i, w in enumerate(words)).encode())
            elif verb == "STARTTLS":
                client.sendall(b"220 go\r\n")
                context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
                context.load_cert_chain(self.tls[1], self.tls[0])
                client = context.wrap_socket(client, server_side=True)
                over_tls = self.over_tls = True
                lines = client.makefile("rb")
            elif verb == "DATA":
                client.sendall(b"354 go\r\n")
                text = b""
                while not text.endswith(b"\r\n.\r\n"):
                    part = lines.readline()
                    if not part:
                        return
                    text += part
                self.texts.append(text[:-3])
                if self.halts("text", client):
                    return
                client.sendall((self.replies.get("text", "250 2.0.0 taken") + "\r\n").encode())
            elif verb == "QUIT":
                client.sendall(b"221 bye\r\n")
                client.close()
                return
            else:
                client.sendall(b"250 ok\r\n")

    def end(self):
        self.listener.shutdown(socket.SHUT_RDWR)         # close alone leaves accept() waiting, and taking one more
        self.listener.close()


def strict(text):
    """Every line end is CRLF, no line is too long, dots are stuffed; gives the message as it was meant."""
    assert b"\r" not in text.replace(b"\r\n", b"") and b"\n" not in text.replace(b"\r\n", b""), "a bare CR or LF"
    lines = text.split(b"\r\n")
    assert all(len(line) <= 998 for line in lines)
    assert not any(line.startswith(b".") and not line.startswith(b"..") for line in lines), "a dot was not stuffed"
    return b"\r\n".join(line[1:] if line.startswith(b"..") else line for line in lines)
