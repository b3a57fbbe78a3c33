"""A mail server for tests, as a process of its own: `python -m tests.mail_server PORT FOLDER [wishes]`.

It is aiosmtpd, which has no part in how the program sends. Each letter that it takes is written into the folder, with
its envelope in front. Wishes are given as JSON: `refuse` and `later` list addresses that it refuses for good or for
now, `cut` addresses at whose letter it breaks off after the text has come, `user` and `passphrase` let it ask for
them, `tls` or `starttls` and `certificate` say how it is protected, and `sender` is the only one that it takes.
"""

import asyncio
import json
import os
import ssl
import subprocess
import sys
from contextlib import contextmanager
from email import message_from_bytes
from email.policy import default
from itertools import count
from pathlib import Path

from aiosmtpd.smtp import SMTP, AuthResult

from tests.servers import free_port, wait_for


class Handler:
    def __init__(self, folder, wishes):
        self.folder, self.wishes, self.numbers = folder, wishes, count()

    async def handle_MAIL(self, _server, _session, envelope, address, options):  # noqa: N802 - as aiosmtpd asks
        if address != self.wishes.get("sender", address):
            return "550 5.7.1 not a sender here"
        envelope.mail_from = address
        envelope.mail_options.extend(options)
        return "250 OK"

    async def handle_RCPT(self, _server, _session, envelope, address, _options):  # noqa: N802 - as aiosmtpd asks
        if address in self.wishes.get("refuse", ()):
            return "550 5.1.1 no such mailbox"
        if address in self.wishes.get("later", ()):
            return "451 4.7.1 greylisted, come again"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, _session, envelope):  # noqa: N802 - as aiosmtpd asks
        head = json.dumps({"from": envelope.mail_from, "to": envelope.rcpt_tos})
        text = head.encode() + b"\n" + envelope.content
        path = self.folder / f"{next(self.numbers):04}-{os.getpid()}.letter"
        path.write_bytes(text)
        if set(envelope.rcpt_tos) & set(self.wishes.get("cut", ())):
            server.transport.abort()
        return "250 taken"


async def serve(port, folder, wishes):
    context = None
    if "certificate" in wishes:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(wishes["certificate"], wishes["key"])

    def check(_server, _session, _envelope, _mechanism, data):
        is_right = (data.login.decode(), data.password.decode()) == (wishes["user"], wishes["passphrase"])
        return AuthResult(success=is_right, handled=False)

    handler = Handler(folder, wishes)

    def make():
        auth = {"authenticator": check, "auth_required": True, "auth_require_tls": False} if "user" in wishes else {}
        starttls = {"tls_context": context, "require_starttls": True} if wishes.get("starttls") else {}
        return SMTP(handler, hostname="mail.example", **auth, **starttls)

    loop = asyncio.get_running_loop()
    server = await loop.create_server(make, "127.0.0.1", port, ssl=context if wishes.get("tls") else None)
    await server.serve_forever()


@contextmanager
def mail_server(folder, **wishes):
    """Run one, and give its port."""
    port = free_port()
    folder.mkdir(exist_ok=True)
    command = [sys.executable, "-m", "tests.mail_server", str(port), str(folder), json.dumps(wishes, default=str)]
    process = subprocess.Popen(command, cwd=Path(__file__).parents[1], stderr=subprocess.DEVNULL)
    try:
        wait_for(port)
        yield port
    finally:
        process.kill()
        process.wait()


def letters_in(folder):
    """Return the letters that were taken, in their order: envelope and message of each."""
    found = []
    for path in sorted(folder.glob("*.letter")):
        envelope, _, text = path.read_bytes().partition(b"\n")
        found.append((json.loads(envelope), message_from_bytes(text, policy=default)))
    return found


def make_certificate(folder):
    """Return the paths of a certificate for 127.0.0.1, signed by nobody else, and of its key; made by OpenSSL."""
    certificate, key = folder / "own.pem", folder / "own.key"
    command = [
        *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=127.0.0.1"),
        *("-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(certificate)),
    ]
    subprocess.run(command, check=True, capture_output=True)
    return certificate, key


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])))
