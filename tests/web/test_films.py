import random
import struct
import zlib
from collections.abc import Callable
from io import BytesIO
from typing import Any

import httpx
import numpy as np
import pytest
from fastapi import FastAPI
from PIL import Image

from limbwright.film.reading import Region, Window, grey8, read_picture
from limbwright.store.store import Store
from limbwright.web.upload import shown_name

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


@pytest.fixture
def app(shared_app: FastAPI) -> FastAPI:
    """One application for the whole file."""
    return shared_app


@pytest.fixture
def store(shared_app: FastAPI) -> Store:
    """Its store."""
    found: Store = shared_app.state.workbench.store
    return found


def sent(client: httpx.Client, *files: tuple[str, bytes]) -> httpx.Response:
    return client.post("/api/films", files=[("files", file) for file in files])


def png(values: np.ndarray) -> bytes:
    out = BytesIO()
    Image.fromarray(values).save(out, "PNG")
    return out.getvalue()


def grain(rows: int, columns: int, seed: int = 1) -> np.ndarray:
    return np.random.Generator(np.random.PCG64(seed)).integers(0, 255, (rows, columns), dtype=np.uint8)


def test_several_films_at_once_are_answered_with_proposals(client: httpx.Client, demo: Any) -> None:
    answer = sent(client, *((f"{i}.dcm", content) for i, content in enumerate(demo.films)))
    assert answer.status_code == 201
    told = answer.json()["films"]
    assert [f["proposal"]["projection"] for f in told] == ["frontal", "sagittal", "sagittal"]
    assert [f["proposal"]["side"] for f in told] == ["both", "right", "left"]
    assert [f["proposal"]["name"] for f in told] == ["frontal", "sagittal right", "sagittal left"]
    assert all(f["duplicate"] for f in told)
    assert told[0]["proposal"]["patient_sex"] == "female"


def test_a_film_is_new_once_and_then_a_duplicate(client: httpx.Client, store: Store) -> None:
    content = png(grain(40, 30))
    first, second = (sent(client, ("a.png", content)).json()["films"][0] for _ in range(2))
    assert (first["duplicate"], second["duplicate"]) == (False, True)
    assert first["sha256"] == second["sha256"]
    assert store.films.get(first["sha256"]) == content


def test_what_is_no_film_is_named_and_the_rest_is_taken(client: httpx.Client) -> None:
    answer = sent(client, ("a.png", png(grain(40, 30))), ("notes.txt", b"hello"), ("empty.dcm", b""))
    assert answer.status_code == 201
    assert [r["file_name"] for r in answer.json()["refused"]] == ["notes.txt", "empty.dcm"]
    assert all(r["error"]["found"] and r["error"]["next"] for r in answer.json()["refused"])


@pytest.mark.parametrize(
    "content",
    [
        b"PK\x03\x04" + b"\0" * 200,
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<html><script>alert(1)</script></html>",
        b"%PDF-1.7",
        b"\x1f\x8b" + b"\0" * 50,
    ],
)
def test_other_files_are_refused_by_content_whatever_their_name(client: httpx.Client, content: bytes) -> None:
    answer = sent(client, ("film.dcm", content))
    assert answer.status_code == 422
    assert answer.json()["films"] == []


@pytest.mark.parametrize(("side", "found"), [(12_000, "144,000,000 pixels"), (200_000, "damaged")])
def test_a_picture_that_claims_to_be_huge_is_refused_before_it_is_unpacked(
    client: httpx.Client, side: int, found: str
) -> None:
    header = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    chunks = [(b"IHDR", header), (b"IDAT", zlib.compress(b"\0" * 1000)), (b"IEND", b"")]
    bomb = b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    )
    answer = sent(client, ("bomb.png", bomb))
    assert answer.status_code == 422
    said = answer.json()["refused"][0]["error"]["found"]
    assert found in said or "12,000" in said


def test_truncated_and_fuzzed_films_are_answered_and_leave_the_server_standing(
    client: httpx.Client, demo: Any, store: Store
) -> None:
    rng = random.Random(5)
    film = demo.films[1]
    for number in range(25):
        damaged = bytearray(film[: rng.randrange(1, len(film))] if number % 2 else film)
        for _ in range(rng.randrange(1, 60)):
            damaged[rng.randrange(min(len(damaged), 3000))] = rng.randrange(256)
        answer = sent(client, ("fuzz.dcm", bytes(damaged)))
        assert answer.status_code in {201, 422}, answer.text
        for taken in answer.json()["films"]:
            shown = client.get(f"/films/{taken['sha256']}/tiles/0/0_0.jpg")
            assert shown.status_code in {200, 422}, shown.text
    assert client.get("/api/health").status_code == 200
    assert store.cases.newest("demo-a") == 1


def test_more_files_than_allowed_are_refused(client: httpx.Client, error: ErrorCheck) -> None:
    small = png(grain(4, 4))
    error(sent(client, *((f"{i}.png", small) for i in range(25))), 400, "bad-request")


@pytest.mark.parametrize("content", [b"", b"no form at all"])
def test_an_upload_without_files_says_so(client: httpx.Client, error: ErrorCheck, content: bytes) -> None:
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    answer = client.post("/api/films", content=content, headers=headers)
    error(answer, 400, "bad-request")


def test_names_of_files_are_shown_without_their_folders() -> None:
    assert shown_name("../../etc/passwd") == "passwd"
    assert shown_name("C:\\films\\leg.dcm") == "leg.dcm"
    assert shown_name("a\x00b\n.dcm") == "ab.dcm"
    assert shown_name("/") == "film"
    assert len(shown_name("x" * 500)) == 120


def test_the_film_page_of_facts_names_no_patient(client: httpx.Client, demo: Any) -> None:
    answer = client.get(f"/api/films/{demo.case.films[0].sha256}")
    told = answer.json()
    assert (told["width_px"], told["height_px"]) == (
        demo.case.films[0].width_px,
        demo.case.films[0].height_px,
    )
    assert told["bits_stored"] == 14
    assert told["scale"]["method"] == "detector spacing and estimated magnification"
    assert "INVENTED" not in answer.text
    assert "Invented" not in answer.text


def test_a_tile_shows_the_film_at_its_window(client: httpx.Client, demo: Any) -> None:
    film = demo.case.films[0]
    info = client.get(f"/api/films/{film.sha256}").json()
    answer = client.get(f"/films/{film.sha256}/tiles/{info['max_level']}/0_0.jpg?c=6000&w=4000")
    shown = np.asarray(Image.open(BytesIO(answer.content))).astype(float)
    picture = read_picture(demo.films[0], name="film").picture
    wanted = grey8(
        picture, Window(centre=6000, width=4000), region=Region(top=0, left=0, rows=512, columns=512)
    )
    assert shown.shape == wanted.shape
    assert np.abs(shown - wanted).mean() < 2.5


def test_tiles_are_kept_by_the_browser_for_good(client: httpx.Client, demo: Any) -> None:
    path = f"/films/{demo.case.films[0].sha256}/tiles/0/0_0.jpg"
    first = client.get(path)
    assert "immutable" in first.headers["cache-control"]
    again = client.get(path, headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert client.get(path + "?c=100&w=50").headers["etag"] != first.headers["etag"]


@pytest.mark.parametrize(
    ("tail", "status"),
    [
        ("9/0_0.jpg", 404),
        ("0/1_0.jpg", 404),
        ("0/0_9.jpg", 404),
        ("0/a_0.jpg", 422),
        ("-1/0_0.jpg", 422),
        ("0/0_0.jpg?c=5", 422),
        ("0/0_0.jpg?c=5&w=0", 422),
        ("0/0_0.jpg?c=nan&w=5", 422),
        ("0/0_0.jpg?c=1&w=2&s=round", 422),
    ],
)
def test_tiles_that_are_not_there_are_refused(
    client: httpx.Client, demo: Any, tail: str, status: int
) -> None:
    answer = client.get(f"/films/{demo.case.films[0].sha256}/tiles/{tail}")
    assert answer.status_code == status, answer.text
    assert answer.json()["found"]


@pytest.mark.parametrize(
    "name",
    [
        "../limbwright.sqlite",
        "..%2f..%2fetc%2fpasswd",
        "%2e%2e/limbwright.sqlite",
        "A" * 64,
        "0" * 63,
        "0" * 64,
    ],
)
def test_no_path_leads_out_of_the_films(client: httpx.Client, name: str) -> None:
    for path in (f"/api/films/{name}", f"/films/{name}/tiles/0/0_0.jpg", f"/static/{name}"):
        answer = client.get(path)
        assert answer.status_code in {404, 422}
        assert b"SQLite" not in answer.content
        assert b"root:" not in answer.content
