"""Requests that no browser sends: each gets a refusal or a closed connection, and others are answered meanwhile."""

import random
import re
import socket
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.lengths import TIMES
from tests.reliability.browsing import Browser
from tests.reliability.serving import serving

REQUESTS = 200 * TIMES
AT_ONCE = 4
PATIENCE_SECONDS = 20
STATUS = re.compile(rb"HTTP/1\.[01] (\d{3}) ")
# What a server may say to what it cannot do (RFC 9110): not implemented, version not supported.
SAID_BY_SERVER = frozenset({501, 505})

METHODS = [
    b"GET",
    b"POST",
    b"HEAD",
    b"OPTIONS",
    b"PUT",
    b"DELETE",
    b"TRACE",
    b"CONNECT",
    b"PATCH",
    b"get",
    b"G\0T",
    b"",
]
METHODS += [b"BREW", b"A" * 9000, b"GET GET", b"\xff\xfe"]
TARGETS = [
    b"/", b"/growers", b"/growers/new", b"/sign-in", b"/ledger", b"*", b"", b"growers", b"//", b"///evil", b"/\\evil",
    b"http://127.0.0.1/", b"http://other.example/", b"https://[::1", b"127.0.0.1:80", b"/%", b"/%zz", b"/%00",
    b"/\0", b"/\xff\xfe", b"/%ff%fe", b"/..%2f..%2fetc/passwd", b"/../../etc/passwd", b"/static/../app.py",
    b"/static/%2e%2e/%2e%2e/settings.py", b"/growers/" + b"9" * 400, b"/growers/-1", b"/growers/%D9%A3",
    b"/trays/1%0d%0aSet-Cookie:%20a=b", b"/ledger/2027-W99", b"/?" + b"a=b&" * 20_000, b"/" + b"a" * 70_000,
    b"/growers?q=%00", b"/growers?q=%ff", b"/growers?page=1e9", b"/sign-in?next=//evil", b"/T/99999999999999999999",
]  # fmt: skip
VERSIONS = [
    b"HTTP/1.1",
    b"HTTP/1.0",
    b"HTTP/0.9",
    b"HTTP/1.2",
    b"HTTP/2.0",
    b"HTTP/",
    b"http/1.1",
    b"",
    b"HTTP/1.1 ",
    b"\0",
]
HEADERS = [
    b"Host: 127.0.0.1", b"Host: ", b"Host: a, b", b"Host: evil.example\0", b"Host: [::1", b"Host: 127.0.0.1:99999999",
    b"Content-Length: 5", b"Content-Length: -5", b"Content-Length: 5, 6", b"Content-Length: 1e3", b"Content-Length: +5",
    b"Content-Length: " + b"9" * 40, b"Content-Length: \xd9\xa5", b"Transfer-Encoding: chunked",
    b"Transfer-Encoding: chunked, chunked", b"Transfer-Encoding: xchunked", b"Transfer-Encoding: gzip",
    b"Expect: 100-continue", b"Expect: 200-maybe", b"Connection: upgrade\r\nUpgrade: websocket", b"Upgrade: h2c",
    b"Connection: close, keep-alive, \0", b"Cookie: traymates=", b"Cookie: traymates=.a.b.c", b"Cookie: =;;=\xff;a",
    b"Cookie: traymates=" + b"A" * 5000, b"Cookie: " + b"a=b; " * 3000, b"Cookie: traymates=eyJhIjoxfQ.ZZZZZZ.AAAA",
    b"Range: bytes=-99999999999999999999", b"Range: bytes=5-1,a-b", b'If-None-Match: W/"', b"If-None-Match: \xff",
    b"If-Modified-Since: yesterday", b"If-Modified-Since: Fri, 99 Foo 99999 99:99:99 GMT", b"Accept: ;q=\xff",
    b"Accept-Language: " + b"x-" * 5000, b"X-Forwarded-For: \0", b"X-Forwarded-Proto: javascript", b'Forwarded: for="',
    b"Content-Type: multipart/form-data", b"Content-Type: multipart/form-data; boundary=", b"Content-Type: \xff/\xfe",
    b"Content-Type: multipart/form-data; boundary=a", b"Content-Type: application/x-www-form-urlencoded; charset=utf-7",
    b"Content-Type: application/x-www-form-urlencoded", b"Content-Encoding: gzip", b"no colon here", b": no name",
    b" folded: yes", b"Na me: value", b"Name\0: value", b"A: " + b"b" * 300_000, b"\tX: y", b"Origin: null",
    b"Sec-Fetch-Site: \0", b"Referer: \\\\\\", b"User-Agent: \xf0\x9f\x8c\xb1\x00",
]  # fmt: skip
BODIES = [
    b"", b"hello", b"5\r\nhello\r\n0\r\n\r\n", b"zz\r\nhello\r\n", b"-1\r\nx\r\n", b"f" * 18 + b"\r\nx",
    b"5;a=b\r\nhel",
    b"name=%&name=%zz&=&&;", b"name=\xff\xfe\x00", b"a=b&" * 5000, b"csrf_token=a&key=" + b"b" * 3000,
    b'--a\r\nContent-Disposition: form-data; name="name"\r\n\r\nx', b"--a--", b"--a\r\n\r\n--a\r\n\r\n--a--",
    b'--a\r\nContent-Disposition: form-data; name="f"; filename="../../x"\r\n\r\n\x00\r\n--a--', b"\0" * 10_000,
    b'--a\r\nContent-Disposition: form-data; name="' + b"n" * 20_000, b"\x1f\x8b\x08\x00garbage",
]  # fmt: skip
ENDS = [b"\r\n", b"\r\n", b"\r\n", b"\n", b"\r", b"\n\r", b"\r\r\n"]


def request_of(draw):
    """Return the bytes of a request that is wrong in a few ways, or of something that is no request at all."""
    if draw.random() < 0.05:
        return draw.randbytes(draw.choice((1, 50, 5000)))
    end = draw.choice(ENDS)
    is_posted = draw.random() < 0.5
    parts = [
        draw.choice(METHODS) if draw.random() < 0.3 else (b"POST" if is_posted else b"GET"),
        draw.choice(TARGETS) if draw.random() < 0.6 else b"/growers/new",
        draw.choice(VERSIONS) if draw.random() < 0.2 else b"HTTP/1.1",
    ]
    lines = [
        draw.choice((b" ", b" ", b" ", b"  ", b"\t", b"")).join(parts) if draw.random() < 0.2 else b" ".join(parts)
    ]
    body = draw.choice(BODIES)
    if draw.random() < 0.8:
        lines.append(b"Host: 127.0.0.1")
    if draw.random() < 0.4:
        lines.append(b"Content-Length: %d" % (len(body) + draw.choice((0, 0, 0, 1, -1, 1000))))
    lines += draw.sample(HEADERS, draw.choice((0, 1, 1, 2, 3)))
    if draw.random() < 0.02:
        lines += [b"X-%d: y" % number for number in range(2000)]
    draw.shuffle(lines[1:])
    whole = draw.choice((b"", b"", b"", b"\r\n", b" ")) + end.join([*lines, b"", body])
    return whole[: draw.randrange(len(whole) + 1)] if draw.random() < 0.1 else whole


def fault_of(port, content):
    """Send it, say that no more comes, and return what is wrong with the answer."""
    answer = b""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_SECONDS) as connection:
        try:
            connection.sendall(content)
            connection.shutdown(socket.SHUT_WR)
            while more := connection.recv(1 << 16):
                answer += more
        except TimeoutError:
            return "no answer and no end"
        except OSError:  # closed before all was sent, which is an answer too
            pass
    for status in map(int, STATUS.findall(answer)):
        if status >= 500 and status not in SAID_BY_SERVER:
            return f"status {status}"
    if b"Traceback (most recent" in answer:
        return "a traceback"
    return None


@pytest.mark.soak
def test_requests_that_are_none_are_refused_and_others_are_answered(garden, cookies):
    with serving(garden) as server, Browser(server.port, cookies[0]) as browser:

        def send(number):
            content = request_of(random.Random(number))
            fault = fault_of(server.port, content)
            return None if fault is None else (number, fault, content[:300])

        with ThreadPoolExecutor(AT_ONCE) as pool:
            for begin in range(0, REQUESTS, 50):
                faults = [fault for fault in pool.map(send, range(begin, begin + 50)) if fault]
                assert faults == []
                assert browser.get("/growers").status == 200
        assert server.process.poll() is None
        assert server.stop() == 0
