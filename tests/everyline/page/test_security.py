"""Attacks on the page: other names, other sites, other paths, bombs, floods of bytes, nonsense."""

from __future__ import annotations

import io
import select
import socket
import time
import zipfile
from urllib.parse import urlsplit

import pytest

from everyline.page.security import JSON_LIMIT, UPLOAD_LIMIT
from tests.everyline.page.served import II_V_I, Served, asked, serving

HEAVY = {
    "changes": " | ".join(["D7 | G7 | C7 | F7 | Bb7 | Eb7 | Ab7 | Db7"] * 32),
    "limit": [{"kind": "outside-notes", "most": 400}, {"kind": "direction-changes", "most": 300}],
}
"""Rules that take longer than any request may."""
UPLOAD = {"content-type": "application/octet-stream"}


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1", "localhost:1", "127.0.0.1.evil.example", ""]
)
def test_a_rebound_name_is_refused(served: Served, host: str) -> None:
    """DNS rebinding: the browser sends the attacker's name in Host, whatever address it resolved to."""
    answer = served.client.get("/api/vocabulary", headers={"host": host})
    assert answer.status_code == 421
    assert "sections" not in answer.text


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_origin_is_refused(served: Served, origin: str, method: str) -> None:
    answer = served.client.request(method, "/api/rules", headers={"origin": origin}, json={"tables": II_V_I})
    assert answer.status_code == 403


def test_a_form_of_another_site_is_refused(served: Served) -> None:
    """A form can send text/plain, urlencoded or multipart without asking first: none of them is read."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        answer = served.client.post(
            "/api/rules", content=b'{"tables": {"changes": "C | C"}}', headers={"content-type": kind}
        )
        assert answer.status_code == 415
    marked = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert served.client.get("/api/vocabulary", headers=marked).status_code == 403


def test_a_link_from_elsewhere_opens_the_page(served: Served) -> None:
    marked = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert served.client.get("/", headers=marked).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/../../../etc/passwd",
        "/..%2f..%2f..%2fetc%2fpasswd",
        "/%2e%2e/app.py",
        "/static/../app.py",
        "//etc/passwd",
        "/api/corpus/rules/..%2f..%2fpyproject",
        "/api/corpus/rules/%2fetc%2fpasswd",
        "/main.js%00.html",
        "/page.js/",
        "/app.py",
    ],
)
def test_no_path_leads_out_of_the_folder(served: Served, path: str) -> None:
    at = urlsplit(served.address)
    with socket.create_connection((at.hostname, at.port)) as raw:  # a client library would tidy the path
        raw.sendall(f"GET {path} HTTP/1.1\r\nHost: {at.netloc}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: raw.recv(65536), b""))
    assert answer.split(b" ", 2)[1] in (b"400", b"404")
    assert b"root:" not in answer and b"import" not in answer


def test_notes_that_look_like_a_path_are_not_looked_up(served: Served) -> None:
    rules = served.rules(II_V_I)
    for notes in ("/etc/passwd", "file.mid", "../../pyproject.toml", "/proc/self/environ.musicxml"):
        answer = served.client.post(f"/api/rules/{rules['id']}/check", json={"notes": notes})
        assert answer.status_code == 400
        assert "is not a note" in answer.json()["error"]


_ENTITIES = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "la" * 20}">' for n in range(10))
BOMB = (
    f'<?xml version="1.0"?><!DOCTYPE score-partwise [{_ENTITIES}]>'
    "<score-partwise><work><work-title>&e9;</work-title></work></score-partwise>"
).encode()
OUTSIDE = (
    b'<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    b"<score-partwise><work><work-title>&x;</work-title></work></score-partwise>"
)


def _zip(data: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as file:
        container = '<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>'
        file.writestr("META-INF/container.xml", container)
        file.writestr("s.xml", data)
    return made.getvalue()


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("musicxml", BOMB),
        ("musicxml", OUTSIDE),
        ("mxl", _zip(BOMB)),
        ("mxl", _zip(b" " * 400_000_000)),
        ("mxl", b"PK\x03\x04 not really"),
        ("mid", b"MThd" + b"\xff" * 2000),
        ("mid", b""),
        ("musicxml", b"<" * 100_000),
        ("musicxml", b"<a>" * 100_000),
    ],
    ids=["entities", "outside", "zipped", "zip-bomb", "rotten-zip", "rotten-midi", "empty", "open", "deep"],
)
def test_rotten_files_get_one_sentence(served: Served, kind: str, data: bytes) -> None:
    rules = served.rules(II_V_I)
    path = f"/api/rules/{rules['id']}/check/file"
    answer = served.client.post(path, params={"kind": kind}, content=data, headers=UPLOAD)
    assert answer.status_code == 400, answer.text
    sentence = answer.json()["error"]
    assert "root:" not in sentence and "/tmp" not in sentence and "Traceback" not in sentence


def test_a_hundred_megabytes_are_refused_at_once(served: Served) -> None:
    rules = served.rules(II_V_I)
    path = f"/api/rules/{rules['id']}/check/file"
    at = urlsplit(served.address)
    head = (
        f"POST {path}?kind=mid HTTP/1.1\r\nHost: {at.netloc}\r\nContent-Type: application/octet-stream\r\n"
        f"Content-Length: 104857600\r\n\r\n"
    )
    with socket.create_connection((at.hostname, at.port)) as raw:
        raw.sendall(head.encode())
        assert raw.recv(64).split(b" ")[1] == b"413"


@pytest.mark.parametrize(
    ("path", "kind", "limit"),
    [("/api/rules", "application/json", JSON_LIMIT), (None, "application/octet-stream", UPLOAD_LIMIT)],
)
def test_a_body_without_a_stated_length_is_cut_off(
    served: Served, path: str | None, kind: str, limit: int
) -> None:
    path = path or f"/api/rules/{served.rules(II_V_I)['id']}/check/file?kind=mid"

    def pieces() -> object:
        for _ in range(limit // 65536 + 3):
            yield b"x" * 65536

    answer = served.client.post(path, content=pieces(), headers={"content-type": kind})
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"null", b"NaN", b'{"tables": NaN}', b"\xff\xfe", b"[" * 100_000,
     b'{"tables": {"changes": 3}}', b'{"tables": {"changes": "\\ud800 | C"}}', b'{"tables": {}, "text": ""}',
     b'{"x": 1}', b'{"tables": ' * 900 + b"1" + b"}" * 900],
)  # fmt: skip
def test_malformed_json_gets_one_sentence(served: Served, body: bytes) -> None:
    answer = served.client.post("/api/rules", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 400
    assert set(answer.json()) == {"error"}


def test_a_body_where_none_is_read_is_said_to_be_one(served: Served) -> None:
    answer = served.client.request("GET", "/api/vocabulary", content=b"128")
    assert answer.status_code == 200 or "reads application/json" in answer.json()["error"]


def test_every_answer_carries_the_policy(served: Served) -> None:
    for path in ("/", "/page.js", "/api/ready", "/nothing", "/api/vocabulary"):
        headers = served.client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_nothing_is_asked_of_the_internet(served: Served) -> None:
    """Every address in the page's own files is one of this server (or the name of an XML vocabulary)."""
    from importlib import resources

    for entry in (resources.files("everyline.page") / "static").iterdir():
        text = entry.read_text(encoding="utf-8").replace("http://www.w3.org/", "")
        assert "http://" not in text and "https://" not in text, entry.name


def test_it_listens_on_this_machine_alone(served: Served) -> None:
    at = urlsplit(served.address)
    assert at.hostname == "127.0.0.1"
    own = {each[4][0] for each in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    for address in own - {"127.0.0.1", "127.0.1.1"}:
        with pytest.raises(OSError):
            socket.create_connection((address, at.port), timeout=2).close()


def test_a_long_request_is_stopped_and_says_so() -> None:
    with serving("--time-limit", "1.5", "--workers", "2") as own:
        answer = own.client.post("/api/rules", json={"tables": HEAVY})
        assert answer.status_code == 503
        assert "more than 1.5 seconds" in answer.json()["error"]
        # The worker was replaced: sooner or later the next request is answered.
        deadline = time.monotonic() + 60
        while own.client.post("/api/rules", json={"tables": II_V_I}).status_code != 200:
            assert time.monotonic() < deadline


def test_clients_do_not_wait_for_each_others_long_work(served: Served) -> None:
    """While every slow place is taken by long counts, a quick one still gets through."""
    rules = served.rules(II_V_I)
    heavy = {**HEAVY, **dict.fromkeys(("range", "approach", "ending"))}
    path = f"/api/rules/{rules['id']}/choices"
    slow = [asked(served, path, {"changes": [{**heavy, "title": str(number)}]}) for number in range(4)]
    time.sleep(0.5)
    assert served.rules({**II_V_I, "title": "quick"})["count"] == rules["count"]
    answered, _, _ = select.select(slow, [], [], 0)
    for each in slow:
        each.close()
    assert not answered
