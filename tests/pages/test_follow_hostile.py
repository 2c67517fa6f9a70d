"""The follow page's server under hostile requests: nothing leaks, nothing hangs, threads end."""

import random
import socket
import struct
import threading
import time
from contextlib import ExitStack, contextmanager, suppress

import pytest

from grading.pages import loopback as module
from grading.pages.follow import server as follow_server
from pages.follow_setup import contents_of, followed, until


@contextmanager
def served(folder):
    """A server of which nothing is left afterwards, and whose files are as they were."""
    threads = set(threading.enumerate())
    with followed(folder) as server:
        before = contents_of(folder)
        yield server
        assert contents_of(folder) == before
        assert ask(server, good(server)).startswith(b"HTTP/1.1 200")
    until(lambda: set(threading.enumerate()) <= threads)


def connect(server):
    return socket.create_connection(server.server_address, 10)


def good(server, path="follow.js"):
    host, port = server.server_address
    return f"GET /{server.token}/{path} HTTP/1.1\r\nHost: {host}:{port}\r\n".encode() + b"\r\n"


def ask(server, data, end=True):
    """All that is answered to some bytes until the server ends the connection."""
    answer = b""
    with connect(server) as stream:
        try:
            stream.sendall(data)
            if end:
                stream.shutdown(socket.SHUT_WR)
            while part := stream.recv(1 << 16):
                answer += part
        except ConnectionError:
            pass
    return answer


def handlers():
    return [t for t in threading.enumerate() if "process_request_thread" in t.name]


def hostile(server):
    """Requests that are wrong in one way or another; none has the token and an own name."""
    host, port = server.server_address
    own, token = f"Host: {host}:{port}\r\n", server.token
    yield b""
    yield b"\r\n\r\n\r\n"
    yield b"\x00" * 1000
    yield b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(500)  # a TLS handshake
    yield b"GET /\r\n\r\n"  # HTTP 0.9
    yield b"GET"
    yield f"GET /{token}/ HTTP/9.9\r\n{own}\r\n".encode()
    yield f"GET /{token}/ HTTP/1.1 HTTP/1.1\r\n{own}\r\n".encode()
    yield f"GET /{token}/ HTTP/1.1\r\n\r\n".encode()
    yield f"get /{token}/ HTTP/1.1\r\n{own}\r\n".encode()
    yield f"GET /{'a' * 70000} HTTP/1.1\r\n{own}\r\n".encode()
    yield f"GET / HTTP/1.1\r\n{own}X: {'a' * 70000}\r\n\r\n".encode()
    yield f"GET / HTTP/1.1\r\n{own}{'X: a' * 2000}\r\n\r\n".encode()
    yield ("GET / HTTP/1.1\r\n" + own + "X: a\r\n" * 200 + "\r\n").encode()
    yield f"GET http://example.org/{token}/ HTTP/1.1\r\nHost: example.org\r\n\r\n".encode()
    yield f"CONNECT example.org:443 HTTP/1.1\r\n{own}\r\n".encode()
    for method in ("POST", "PUT", "DELETE", "TRACE", "OPTIONS", "HEAD", "__init__", "GET\x00"):
        yield f"{method} /{token}/ HTTP/1.1\r\n{own}Content-Length: 9\r\n\r\nrecipe: 1".encode()
    for name in ("example.org", f"{host}:{port}@example.org", f"{host}:{port}.", f"{host}:0{port}",
                 "\x1b[2J", f"{host}:{port}\r\n Origin: x"):  # fmt: skip
        yield f"GET /{token}/ HTTP/1.1\r\nHost: {name}\r\n\r\n".encode()
    for origin in ("null", "http://example.org", f"https://{host}:{port}", "file://", ""):
        yield f"GET /{token}/ HTTP/1.1\r\n{own}Origin: {origin}\r\n\r\n".encode()
    for path in ("", "/", f"{token[:-1]}/", f"{token} /", f"{token}%2f", "..%2f" * 9 + "etc/passwd",
                 "../" * 20 + "etc/passwd", "é".encode().decode("latin-1"), "\x1b[2J", "\x00"):
        yield f"GET /{path} HTTP/1.1\r\n{own}\r\n".encode("latin-1")


def assert_tells_nothing(server, answer):
    assert b" 200 " not in answer.partition(b"\r\n")[0]
    for secret in (server.token, "frame 0", "look.yaml", "exposure", "Python", "Traceback"):
        assert secret.encode() not in answer, answer


def test_hostile_requests_learn_nothing(tmp_path, capfd):
    with served(tmp_path) as server:
        for request in hostile(server):
            assert_tells_nothing(server, ask(server, request))
    assert capfd.readouterr() == ("", "")


def test_a_slow_sender_is_ended_however_busily_it_sends(tmp_path, monkeypatch):
    """Each byte comes in time; all of them together do not."""
    monkeypatch.setattr(module, "PATIENCE", 0.5)
    with served(tmp_path) as server, connect(server) as stream:
        stream.settimeout(0.02)
        begun = time.monotonic()
        ended = False
        for letter in good(server)[:15] + b"x" * 250:
            try:
                stream.sendall(bytes([letter]))
                ended = not stream.recv(1)
            except TimeoutError:
                continue
            except ConnectionError:
                ended = True
            if ended:
                break
        assert ended and time.monotonic() - begun < 5


def test_a_silent_connection_is_ended(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "PATIENCE", 0.3)
    with served(tmp_path) as server:
        with connect(server) as silent, connect(server) as once:
            once.sendall(good(server))
            assert once.recv(15) == b"HTTP/1.1 200 OK"
            for stream in (silent, once):  # one that asked before waits for its next request
                stream.settimeout(5)
                while stream.recv(1 << 16):
                    pass
        until(lambda: not handlers())


def test_there_is_room_for_so_many_connections_and_then_again(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "CONNECTIONS", 8)
    with served(tmp_path) as server:
        with ExitStack() as stack:
            streams = [stack.enter_context(connect(server)) for _ in range(30)]
            until(lambda: len(handlers()) == 8)
            for stream in streams[8:]:
                stream.settimeout(5)
                with suppress(ConnectionError):
                    assert stream.recv(1) == b""
            assert len(handlers()) == 8
        until(lambda: not handlers())


def test_connections_that_are_half_closed_or_torn_end_their_threads(tmp_path, capfd):
    with served(tmp_path) as server:
        assert ask(server, good(server)).startswith(b"HTTP/1.1 200")
        for path in ("events", "picture/0/1", "follow.js"):
            stream = connect(server)
            stream.sendall(good(server, path))
            stream.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            stream.close()  # sends a reset
        server.session.wait(-1, 0)
    until(lambda: not handlers())
    assert capfd.readouterr().err == ""


def test_a_stream_says_that_it_is_alive_and_ends_when_nobody_listens(tmp_path, monkeypatch):
    monkeypatch.setattr(follow_server, "HEARTBEAT", 0.05)
    with served(tmp_path) as server:
        with connect(server) as stream:
            stream.settimeout(5)
            stream.sendall(good(server, "events"))
            heard = b""
            while heard.count(b"\n\n:\n") < 1 or heard.count(b":\n\n") < 3:
                heard += stream.recv(1 << 16)
            assert len(handlers()) == 1
        until(lambda: not handlers())


def test_all_ends_with_the_server(tmp_path):
    """Silent connections and streams of events too, at once."""
    with ExitStack() as stack:
        with served(tmp_path) as server:
            for data in (b"", b"GET /", good(server), good(server, "events")):
                stream = stack.enter_context(connect(server))
                stream.sendall(data)
            until(lambda: len(handlers()) == 4)
            begun = time.monotonic()
        assert time.monotonic() - begun < 10
        assert not handlers()


def test_what_nobody_foresaw_is_one_line(tmp_path, monkeypatch, capsys):
    def broken(*_):
        raise ZeroDivisionError("no\x1b\nway")

    with served(tmp_path) as server, monkeypatch.context() as patch:
        patch.setattr(server.session, "rendering", broken)
        assert ask(server, good(server, "picture/0/1")) == b""
    assert capsys.readouterr().err == (
        "the page failed unexpectedly (ZeroDivisionError: no\\x1b\\nway)\n"
    )


@pytest.mark.slow
def test_requests_damaged_at_random(tmp_path, capfd):
    """Cut, doubled, overwritten and drawn out, many at a time; half of them know the token."""
    with served(tmp_path) as server:
        samples = [*hostile(server), *(good(server, p) for p in ("", "events", "picture/0/1"))]

        def attack(seed):
            rng = random.Random(seed)
            for _ in range(60):
                data = bytearray(rng.choice(samples)[:3000])
                for _ in range(rng.randrange(6)):
                    if data:
                        data[rng.randrange(len(data))] = rng.randrange(256)
                data = data[: rng.randrange(len(data) + 1)] * rng.choice((1, 1, 2))
                try:
                    with connect(server) as stream:
                        stream.settimeout(0.2)
                        for i in range(0, len(data), step := rng.choice((1, 50, 9999))):
                            stream.sendall(data[i : i + step])
                        stream.recv(1 << 16)
                except OSError:
                    pass

        attackers = [threading.Thread(target=attack, args=(seed,)) for seed in range(32)]
        for thread in attackers:
            thread.start()
        for thread in attackers:
            thread.join(300)
        assert not any(thread.is_alive() for thread in attackers)
    assert capfd.readouterr().err == ""
