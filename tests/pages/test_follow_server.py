"""The follow page's server: what it serves, and all that it refuses."""

import http.client
import io
import json
import socket

import numpy as np
import pytest
from PIL import Image

from grading.errors import OutputError
from grading.pages.follow.server import FollowServer
from pages.follow_setup import contents_of, followed, grey_after, save, until


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with followed(tmp_path_factory.mktemp("followed")) as server:
        yield server


def get(server, path, **headers):
    """Status, headers and body of a path below the token's."""
    return ask(server, f"/{server.token}/{path}", **headers)


def ask(server, path, method="GET", **headers):
    host, port = server.server_address
    connection = http.client.HTTPConnection(host, port, timeout=10)
    headers = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, path, headers=headers)
    answer = connection.getresponse()
    result = answer.status, dict(answer.getheaders()), answer.read()
    connection.close()
    return result


def version(server):
    return server.session.state.latest.number


def test_serves_page_and_its_parts(server):
    status, headers, body = get(server, "")
    assert status == 200
    assert headers["Content-Type"] == "text/html; charset=utf-8"
    assert b"look.yaml" in body
    frames = json.loads(get(server, f"shown/{version(server)}")[2])["frames"]
    assert frames == ["frame 0.png", "frame 1.png"]
    assert b"http" not in body  # refers to nothing outside of itself
    assert get(server, "follow.js")[1]["Content-Type"].startswith("text/javascript")
    for style in ("page.css", "follow.css"):
        status, headers, body = get(server, style)
        assert (status, headers["Content-Type"].split(";")[0]) == (200, "text/css")
        assert b"url(" not in body and b"@import" not in body


def test_picture_is_that_of_the_recipe(server):
    for asked, code in ((0, grey_after(0)), (version(server), grey_after(0.5))):
        status, headers, body = get(server, f"picture/0/{asked}")
        assert (status, headers["Content-Type"]) == (200, "image/jpeg")
        picture = Image.open(io.BytesIO(body))
        assert picture.size == (240, 160)
        assert picture.info["icc_profile"]
        np.testing.assert_allclose(np.array(picture)[:, :60].mean(axis=(0, 1)), code, atol=1)


def test_figures_and_marks(server):
    """A third of the picture is white before and after."""
    status, _, body = get(server, f"figures/0/{version(server)}")
    figures = json.loads(body)
    assert (status, figures["width"], figures["height"]) == (200, 240, 160)
    assert [channel["white"] for channel in figures["channels"]][1:] == ["33.3 %", "33.3 %"]
    assert [len(channel["bars"]) for channel in figures["channels"]] == [64] * 3
    assert json.loads(get(server, "marks/0/0")[2]).startswith("data:image/png;base64,")


def test_place(server):
    status, _, body = get(server, f"place/1/{version(server)}/0.1000/0.5")
    place = json.loads(body)
    assert status == 200
    assert place["scene"] == "+0.51 stops"  # code 118 is 0.01 stops over middle grey
    assert place["hue"] == "grey"
    assert place["copy"]["place"] == "[0.1000, 0.5000]"
    assert place["copy"]["light"].startswith("white_balance: {kelvin: 65")


def test_burnt_place_is_no_neutral(server):
    place = json.loads(get(server, "place/0/0/0.9/0.5")[2])
    assert place["light"] == "none: a channel is burnt out"
    assert place["copy"] == {"place": "[0.9000, 0.5000]"}


def test_copied_lines_are_recipes(server, tmp_path):
    from grading.recipe.load import load_recipe

    lines = json.loads(get(server, "place/0/0/0.1/0.5")[2])["copy"]
    for key in ("neutral", "light"):
        save(tmp_path / "look.yaml", lines[key] + "\n")
        assert load_recipe(tmp_path / "look.yaml").stated["white_balance"]


def test_other_tokens_get_nothing(server):
    for path in ("/", "/events", "//", f"/{server.token[:-1]}/", f"/{server.token}x/",
                 "/" + "A" * len(server.token) + "/", f"/x/{server.token}/"):  # fmt: skip
        status, headers, body = ask(server, path)
        assert (status, body) == (404, b""), path
        assert headers["Content-Security-Policy"].startswith("default-src 'none'")


def test_tokens_differ():
    class Nothing:
        pass

    tokens = set()
    for _ in range(5):
        with FollowServer(Nothing()) as server:
            tokens.add(server.token)
    assert len(tokens) == 5
    assert min(map(len, tokens)) >= 24  # 144 bits


@pytest.mark.parametrize(
    "host",
    ["example.org", "example.org:{port}", "127.0.0.1", "127.0.0.1:1",
     "127.0.0.1:{port}.example.org", "192.168.0.1:{port}", "0.0.0.0:{port}", ""],
)  # fmt: skip
def test_other_hosts_are_refused(server, host):
    """A name that a stranger points at this machine (DNS rebinding) does not open it."""
    host = host.format(port=server.server_address[1])
    status, _, body = get(server, "", Host=host)
    assert (status, body) == (403, b"")


def test_two_hosts_are_refused(server):
    host, port = server.server_address
    with socket.create_connection((host, port), 10) as stream:
        request = f"GET /{server.token}/ HTTP/1.1\r\n" + f"Host: {host}:{port}\r\n" * 2 + "\r\n"
        stream.sendall(request.encode())
        assert stream.recv(100).startswith(b"HTTP/1.1 403")


def test_own_names_are_answered(server):
    port = server.server_address[1]
    for name in (f"127.0.0.1:{port}", f"localhost:{port}"):
        assert get(server, "", Host=name, Origin=f"http://{name}")[0] == 200


@pytest.mark.parametrize("origin", ["http://example.org", "null", "https://127.0.0.1:{port}",
                                    "http://127.0.0.1:1", "file://"])  # fmt: skip
def test_other_origins_are_refused(server, origin):
    origin = origin.format(port=server.server_address[1])
    assert get(server, "events", Origin=origin)[::2] == (403, b"")


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_other_sites_are_refused(server, site):
    assert get(server, "picture/0/0", Sec_Fetch_Site=site)[::2] == (403, b"")
    assert get(server, "picture/0/0", Sec_Fetch_Site="same-origin")[0] == 200


@pytest.mark.parametrize(
    "path",
    ["../look.yaml", "..%2flook.yaml", "look.yaml", "follow.css/../page.css", "follow.html",
     "picture/../../look.yaml", "picture/-1/0", "picture/2/0", "picture/0/99", "picture/0/0/",
     "picture/0/0?x", "/etc/passwd", "%2e%2e/", "page.css\x00", "place/0/0/1.5/0",
     "place/0/0/nan/0", "place/0/0/0.5/-0.1", "picture/\u0661/0", "templates/page.css",
     "diff.html"],
)  # fmt: skip
def test_nothing_else_is_served(server, path):
    host, port = server.server_address
    with socket.create_connection((host, port), 10) as stream:
        request = f"GET /{server.token}/{path} HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n"
        stream.sendall(request.encode())
        status = int(stream.recv(1000).split()[1])
    assert status in (400, 404)


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "HEAD", "PATCH"])
def test_only_get(server, method):
    status, headers, _ = ask(server, f"/{server.token}/picture/0/0", method)
    assert status == 501
    assert "Access-Control-Allow-Origin" not in headers


def test_every_answer_is_protected(server):
    for path in ("", "follow.js", "picture/0/0", "figures/0/0", "nothing", "picture/9/0"):
        headers = get(server, path)[1]
        policy = headers["Content-Security-Policy"]
        assert "unsafe" not in policy and "http" not in policy and "*" not in policy
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert headers["Cache-Control"] == "no-store"
        assert "Python" not in headers["Server"]


def test_listens_on_loopback_only():
    with FollowServer(None) as server:
        assert server.url.startswith("http://127.0.0.1:")
        assert server.socket.getsockname()[0] == "127.0.0.1"


def test_taken_port(server):
    with pytest.raises(OutputError, match="cannot be used.*another port"):
        FollowServer(None, port=server.server_address[1])


def test_damaged_frame_is_reported(tmp_path):
    with followed(tmp_path) as server:
        (tmp_path / "frame 1.png").write_bytes(b"\x89PNG no more")
        status, _, body = get(server, "figures/1/0")
        assert status == 422
        assert str(tmp_path / "frame 1.png") in json.loads(body)["error"]
        assert get(server, "figures/0/0")[0] == 200


def test_events_tell_of_saves(tmp_path):
    with followed(tmp_path) as server:
        host, port = server.server_address
        connection = http.client.HTTPConnection(host, port, timeout=10)
        connection.request("GET", f"/{server.token}/events")
        stream = connection.getresponse()
        assert stream.getheader("Content-Type") == "text/event-stream"

        def news():
            line = next(line for line in stream if line.startswith(b"data: "))
            return json.loads(line.removeprefix(b"data: "))

        assert news() == {"version": 1, "title": "look", "error": None, "work": ""}
        save(tmp_path / "look.yaml", "title: Dusk\n")
        assert news() == {"version": 2, "title": "Dusk", "error": None, "work": ""}
        save(tmp_path / "look.yaml", "title: Dusk\nexposure:\n  stops: 99\n")
        reported = news()
        assert (reported["version"], reported["title"]) == (2, "Dusk")
        assert f"{tmp_path / 'look.yaml'}:4:10: exposure.stops" in reported["error"]
        connection.close()


def test_changes_no_file(tmp_path):
    with followed(tmp_path) as server:
        before = contents_of(tmp_path)
        for path in ("", "picture/0/0", "picture/1/1", "figures/0/1", "marks/0/1",
                     "place/0/1/0.5/0.5", "ahead/1"):  # fmt: skip
            assert get(server, path)[0] in (200, 202)
        until(lambda: get(server, "picture/1/1")[0] == 200)
    assert contents_of(tmp_path) == before


def test_a_place_of_a_framed_picture_is_one_of_the_frame(tmp_path):
    """Of the right half, the middle lies at three quarters of the frame; a turn keeps it there."""
    framing = "framing: {crop: {left: 0.5}, straighten: 1.0}\n"
    with followed(tmp_path, framing) as server:
        seen = server.session.rendering(0, 1).plan.view
        place = json.loads(get(server, "place/0/1/0.5/0.5")[2])["copy"]["place"]
        x, y = seen.to_frame(0.5, 0.5)
        assert place == f"[{x:.4f}, {y:.4f}]" and 0.7 < x < 0.8
        figures = json.loads(get(server, "figures/0/1")[2])
        assert (figures["width"], figures["height"]) == seen.size
