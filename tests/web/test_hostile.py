"""What an enemy sends, through a real server on a real socket: each answered plainly, and nothing is lost."""

import http.client
import io
import json
import random
import shutil
import socket
import struct
import tempfile
import threading
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn

from limbwright.store.store import Store, open_store
from limbwright.web.app import create_app
from limbwright.web.settings import MEBIBYTE, Limits, Settings

WAS_HERE = Path(tempfile.gettempdir()) / "limbwright-was-here"
SHAPE = {"code", "found", "where", "unit", "next", "problems", "differs"}
MARKUP = "<svg onload=alert(1)><script>alert(2)</script>\"'><!--"
DICM = b"\0" * 128 + b"DICM"
CREATE = {"side": "left", "patient": {"id": "P-1", "sex": "female", "age_years": 30}}


class Served:
    """A server of its own in this process, on a socket of its own."""

    def __init__(self, home: Path) -> None:
        self.socket = socket.socket()
        self.socket.bind(("127.0.0.1", 0))
        self.port: int = self.socket.getsockname()[1]
        self.store: Store = open_store(home)
        limits = Limits(upload_bytes=24 * MEBIBYTE, upload_file_bytes=8 * MEBIBYTE)
        app = create_app(Settings(home=home, port=self.port, limits=limits), store=self.store)
        self.server = uvicorn.Server(uvicorn.Config(app, log_level="critical", access_log=False))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.socket]})

    def raw(self, method: str, path: str, body: bytes = b"", headers: dict[str, str] | None = None) -> Any:
        """Status and body of a request sent exactly as written: nothing in the address is tidied up."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            connection.request(method, path, body=body or None, headers=headers or {})
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()


@pytest.fixture(scope="module")
def served(filled_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    home = tmp_path_factory.mktemp("hostile") / "home"
    shutil.copytree(filled_home, home)
    found = Served(home)
    found.thread.start()
    yield found
    found.server.should_exit = True
    found.thread.join(timeout=30)
    found.store.close()


@pytest.fixture(scope="module")
def client(served: Served) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=f"http://127.0.0.1:{served.port}", timeout=60) as client:
        for _ in range(200):
            try:
                client.headers["X-CSRF-Token"] = client.get("/api/session").json()["csrf"]
                break
            except httpx.ConnectError:
                threading.Event().wait(0.05)
        yield client


@pytest.fixture(autouse=True)
def nothing_is_lost(served: Served, client: httpx.Client) -> Iterator[None]:
    """After every attack the case is there as it was, and the server answers."""
    before, _ = served.store.cases.current("demo-a")
    films = set(served.store.films.all())
    yield
    after, _ = served.store.cases.current("demo-a")
    assert after == before
    assert films <= set(served.store.films.all())
    assert not [p for p in served.store.films.folder.iterdir() if p.name.endswith(".part")]
    assert client.get("/api/health").json()["ready"] is True


def refused(answer: httpx.Response, *statuses: int) -> dict[str, Any]:
    assert answer.status_code in statuses, answer.text[:500]
    said: dict[str, Any] = answer.json()
    assert set(said) >= SHAPE
    assert said["found"]
    return said


def sent(client: httpx.Client, content: bytes, name: str = "film.dcm") -> httpx.Response:
    return client.post("/api/films", files=[("files", (name, content))])


def turned_away(answer: httpx.Response) -> str:
    """What was said of the one film of an upload that was refused."""
    assert answer.status_code == 422, answer.text[:500]
    (one,) = answer.json()["refused"]
    assert set(one["error"]) >= SHAPE
    assert one["error"]["next"]
    found: str = one["error"]["found"]
    return found


# -- who asks, and from where


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:1", "[::1]:1", "a" * 4000])
def test_another_host_is_not_answered(served: Served, client: httpx.Client, host: str) -> None:
    for path in ("/", "/api/cases/demo-a", "/static/app.js"):
        said = refused(client.get(path, headers={"Host": host}), 421)
        assert said["code"] == "host"


@pytest.mark.parametrize(
    "headers",
    [{"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"}],
)
def test_another_site_changes_nothing(client: httpx.Client, headers: dict[str, str]) -> None:
    for method, path in (("POST", "/api/cases"), ("PUT", "/api/profile"), ("DELETE", "/api/session")):
        refused(client.request(method, path, json=CREATE, headers=headers), 403)


def test_a_request_that_is_none_is_answered_or_dropped(served: Served) -> None:
    for start in (b"GET\r\n\r\n", b"\x16\x03\x01\x02\x00", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n"):
        with socket.create_connection(("127.0.0.1", served.port), timeout=10) as line:
            line.sendall(start + b"\0" * 100)
            line.shutdown(socket.SHUT_WR)
            said = line.recv(4096)
        assert b"Traceback" not in said
        assert not said.startswith(b"HTTP/1.1 2")


# -- addresses


@pytest.mark.parametrize(
    "path",
    [
        "/static/../limbwright.sqlite",
        "/static/..%2f..%2f..%2fetc%2fpasswd",
        "/static/%2e%2e/%2e%2e/web/app.py",
        "/static/....//....//etc/passwd",
        "/static/..\\..\\etc\\passwd",
        "//etc/passwd",
        "/films/../../../etc/passwd",
        "/films/..%2f..%2flimbwright.sqlite/tiles/0/0_0.jpg",
        "/api/films/..%2f..%2flimbwright.sqlite",
        "/api/cases/..%2f..%2f..%2fetc%2fpasswd",
        "/api/cases/../films",
        "/cases/%2e%2e%2f%2e%2e%2fetc%2fpasswd/table",
        "/api/results/..%2f..%2fetc%2fpasswd.csv",
        "/static/app.js%00.png",
        "/" + "a/" * 4000,
    ],
)
def test_no_address_leads_out_of_its_folder(served: Served, path: str) -> None:
    host = {"Host": f"127.0.0.1:{served.port}"}
    status, body = served.raw("GET", path, headers=host)
    assert 400 <= status < 500
    for secret in (b"root:", b"SQLite format", b"def create_app", b"Traceback"):
        assert secret not in body


@pytest.mark.parametrize("name", [f"../../../..{WAS_HERE}", "/etc/passwd", "C:\\Windows\\x", "a\0b"])
def test_the_name_of_a_file_is_never_a_path(served: Served, client: httpx.Client, name: str) -> None:
    answer = sent(client, b"no film", name)
    assert turned_away(answer)
    shown = answer.json()["refused"][0]["file_name"]
    assert not set(shown) & set("/\\\0")
    assert not WAS_HERE.exists()


def test_a_film_record_names_no_file_outside(client: httpx.Client) -> None:
    document = client.get("/api/cases/demo-a").json()["case"]
    for file in ("../../etc/passwd", "/etc/passwd", "C:\\x.dcm", "..\\x"):
        document["films"][0]["file"] = file
        answer = client.put("/api/cases/demo-a", json={"base_version": 1, "case": document})
        assert refused(answer, 422)["problems"]


# -- size


def test_a_declared_length_over_the_limit_is_refused_unread(served: Served, client: httpx.Client) -> None:
    headers = {
        "Host": f"127.0.0.1:{served.port}",
        "Cookie": f"limbwright_session={client.cookies['limbwright_session']}",
        "X-CSRF-Token": client.headers["X-CSRF-Token"],
        "Content-Length": str(1 << 40),
    }
    for path in ("/api/films", "/api/cases/import", "/api/work/plan", "/api/profile"):
        connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
        connection.putrequest("POST", path, skip_host=True)
        for name, value in headers.items():
            connection.putheader(name, value)
        connection.endheaders()
        answer = connection.getresponse()
        assert answer.status == 413
        assert json.loads(answer.read())["code"] == "too-large"
        connection.close()


def test_a_body_without_an_end_is_cut_off(client: httpx.Client) -> None:
    taken = 0

    def endless() -> Iterator[bytes]:
        nonlocal taken
        while True:
            taken += 1 << 20
            yield b" " * (1 << 20)

    try:
        answer = client.post("/api/profile/reset", content=endless())
        refused(answer, 413)
    except httpx.TransportError:
        pass  # the server closed the line; that is an answer too
    assert taken < 200 * MEBIBYTE, "the server goes on listening"


def test_a_film_over_its_limit_is_refused_and_leaves_nothing(served: Served, client: httpx.Client) -> None:
    before = set(served.store.films.all())
    said = turned_away(sent(client, DICM + b"\0" * (8 * MEBIBYTE + 1)))
    assert "larger than" in said
    assert set(served.store.films.all()) == before


# -- films that unpack without end


def png_of(side: int, data: bytes) -> bytes:
    parts = [
        (b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)),
        (b"IDAT", zlib.compress(data, 9)),
        (b"IEND", b""),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in parts
    )


def deflated_dicom(grown: int) -> bytes:
    """A deflated DICOM file whose data set grows to so many bytes."""
    syntax = b"1.2.840.10008.1.2.1.99"
    element = struct.pack("<HH2sH", 2, 0x10, b"UI", len(syntax)) + syntax
    meta = struct.pack("<HH2sHI", 2, 0, b"UL", 4, len(element)) + element
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    data = b"".join(packer.compress(b"\0" * MEBIBYTE) for _ in range(grown // MEBIBYTE)) + packer.flush()
    return DICM + meta + data


def test_a_picture_that_unpacks_a_thousandfold_is_refused(client: httpx.Client) -> None:
    assert turned_away(sent(client, png_of(30_000, b"\0" * 30_001 * 200), "bomb.png"))
    assert turned_away(sent(client, png_of(9_000, b"\0" * 9_001 * 9_000), "even.png"))


def test_a_deflated_film_that_grows_without_end_is_refused(client: httpx.Client) -> None:
    bomb = deflated_dicom(700 * MEBIBYTE)
    assert len(bomb) < MEBIBYTE
    assert turned_away(sent(client, bomb))


def test_truncated_and_fuzzed_films_are_answered(client: httpx.Client, demo: Any) -> None:
    rng = random.Random(1895)
    film = demo.films[1]
    for number in range(40):
        damaged = bytearray(film[: rng.randrange(1, len(film))] if number % 2 else film)
        for _ in range(rng.randrange(1, 60)):
            damaged[rng.randrange(min(len(damaged), 3000))] = rng.randrange(256)
        answer = sent(client, bytes(damaged))
        assert answer.status_code in {201, 422}, answer.text[:300]
        for one in answer.json()["films"]:
            shown = client.get(f"/films/{one['sha256']}/tiles/0/0_0.jpg")
            assert shown.status_code in {200, 422}
            assert client.get(f"/api/films/{one['sha256']}").status_code in {200, 422}


# -- archives


@pytest.fixture(scope="module")
def exported(client: httpx.Client) -> bytes:
    answer = client.get("/api/cases/demo-a/export.zip")
    assert answer.status_code == 200
    return answer.content


def zipped(good: bytes, change: Callable[[str, bytes], bytes], *more: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
        for name, data in more:
            new.writestr(name, data)
    return out.getvalue()


def imported(client: httpx.Client, archive: bytes) -> httpx.Response:
    return client.post("/api/cases/import", files={"file": ("case.zip", archive)})


def test_the_export_itself_is_taken(client: httpx.Client, exported: bytes) -> None:
    assert imported(client, exported).json()["known_cases"] == ["demo-a"]


@pytest.mark.parametrize(
    "name",
    [f"../../../..{WAS_HERE}", str(WAS_HERE), "films/../../x", "C:\\x", "films/"],
)
def test_an_archive_writes_nowhere_else(client: httpx.Client, exported: bytes, name: str) -> None:
    bad = zipped(exported, lambda _, data: data, (name, b"here"))
    refused(imported(client, bad), 422)
    assert not WAS_HERE.exists()


def test_a_zip_bomb_is_refused_before_it_is_unpacked(client: httpx.Client, exported: bytes) -> None:
    zeros = b" " * (200 * MEBIBYTE)
    for part in ("manifest.json", "cases/"):
        bomb = zipped(exported, lambda name, data, part=part: zeros if name.startswith(part) else data)
        assert len(bomb) < 20 * MEBIBYTE
        refused(imported(client, bomb), 422)


@pytest.mark.parametrize(
    "content", [b"", b"PK\x03\x04", b"PK\x05\x06" + b"\0" * 18, b"\x1f\x8b" + b"\0" * 99]
)
def test_what_is_no_archive_is_refused(client: httpx.Client, content: bytes) -> None:
    refused(imported(client, content), 400, 422)


def test_cut_short_and_damaged_archives_are_refused(client: httpx.Client, exported: bytes) -> None:
    rng = random.Random(7)
    for _ in range(12):
        cut = exported[: rng.randrange(len(exported))]
        refused(imported(client, cut), 400, 422)
    for _ in range(12):
        damaged = bytearray(exported)
        for _ in range(200):
            damaged[rng.randrange(len(damaged))] = rng.randrange(256)
        answer = imported(client, bytes(damaged))
        assert answer.status_code in {201, 422}
        if answer.status_code == 422:
            refused(answer, 422)


# -- markup and odd numbers in every field


def texts(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Places of every text in a document."""
    if isinstance(value, str):
        yield path
    elif isinstance(value, dict):
        for key, member in value.items():
            yield from texts(member, (*path, key))
    elif isinstance(value, list):
        for index, member in enumerate(value[:2]):
            yield from texts(member, (*path, index))


def replaced(document: Any, path: tuple[Any, ...], text: Any) -> Any:
    copy = json.loads(json.dumps(document))
    inner = copy
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = text
    return copy


def test_markup_in_every_text_is_refused_or_stays_text(client: httpx.Client) -> None:
    document = client.get("/api/cases/demo-a").json()["case"]
    document["films"] = document["films"][:1]
    document["films"][0]["walls"] = document["films"][0]["walls"][:1]
    for side in ("left", "right"):
        document["films"][0][side] = dict(list(document["films"][0][side].items())[:2])
    places = list(texts(document))
    assert len(places) > 15
    taken = []
    for number, place in enumerate(places):
        hostile = replaced(document, place, MARKUP)
        answer = client.post("/api/work/measure", json={"session": f"m{number}", "case": hostile})
        assert answer.status_code in {200, 422}, (place, answer.text[:300])
        assert answer.headers["content-type"].startswith("application/json")
        if answer.status_code == 200:
            taken.append(place)
    assert ("diagnosis",) in taken
    assert ("side",) not in taken


def test_cases_with_markup_in_every_free_text_are_shown_as_text(client: httpx.Client) -> None:
    document = client.get("/api/cases/demo-a").json()["case"]
    film = {**document["films"][0], "name": MARKUP[:70]}
    body = {
        "id": "markup",
        "side": "left",
        "diagnosis": MARKUP,
        "patient": {"id": MARKUP[:60], "sex": "female", "age_years": 30},
        "films": [
            {"sha256": film["sha256"], "name": film["name"], "projection": "frontal", "standing": True}
        ],
    }
    answer = client.post("/api/cases", json=body)
    if answer.status_code == 422:  # a pseudonym may be refused for its letters
        body["patient"]["id"] = "P-1"  # type: ignore[index]
        answer = client.post("/api/cases", json=body)
    assert answer.status_code == 201, answer.text
    stored = client.get("/api/cases/markup").json()["case"]
    again = {"base_version": 1, "case": {**stored, "diagnosis": MARKUP + MARKUP}, "why": MARKUP}
    assert client.put("/api/cases/markup", json=again).status_code == 200
    for path in ("/cases", "/cases/markup/table", "/cases/markup/history"):
        page = client.get(path, headers={"Accept": "text/html"})
        assert page.status_code == 200
        assert "<svg onload" not in page.text
        assert "<script>alert" not in page.text


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-1e999", "1e308", "9" * 400, "0.1e-400"])
def test_numbers_that_are_none_are_refused(client: httpx.Client, number: str) -> None:
    text = json.dumps({"base_version": 1, "changes": {"overlap_mm": "HERE"}}).replace('"HERE"', number)
    answer = client.put("/api/profile", content=text, headers={"Content-Type": "application/json"})
    refused(answer, 400, 409, 422)


def test_a_body_nested_without_end_is_refused(client: httpx.Client) -> None:
    for body in (b"[" * 100_000, b'{"a":' * 50_000 + b"1" + b"}" * 50_000):
        answer = client.post("/api/work/plan", content=body, headers={"Content-Type": "application/json"})
        refused(answer, 400, 422)
