import hashlib
import os
import stat

import pytest

from limbwright.case.case import Case
from limbwright.case.document import case_to_json
from limbwright.case.patient import Patient
from limbwright.case.problem import UnreadableCase
from limbwright.error import Contradiction, Missing, Refused, Unreadable
from limbwright.film.film import Film
from limbwright.growth.growth import Sex
from limbwright.interop import case_file
from limbwright.interop.case_file import film_bytes, read_case, write_case
from limbwright.limb.anatomy import Projection, Side


def case(**changes):
    values = {"id": "a", "side": Side.LEFT, "patient": Patient(id="A", sex=Sex.MALE, age_years=30.0)}
    return Case(**values | changes)


def film(**changes):
    return Film(**{"name": "f", "projection": Projection.FRONTAL, "width_px": 10, "height_px": 10} | changes)


def test_what_is_written_is_read_back(tmp_path):
    path = tmp_path / "case.json"
    write_case(path, case(films=(film(),)))
    assert read_case(path, complete=False) == case(films=(film(),))
    assert path.read_text(encoding="utf-8") == case_to_json(case(films=(film(),)))
    assert os.listdir(tmp_path) == ["case.json"]


def test_a_new_file_is_its_owners_alone_and_an_old_one_keeps_its_permissions(tmp_path):
    path = tmp_path / "case.json"
    write_case(path, case())
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.chmod(0o640)
    write_case(path, case(diagnosis="new"))
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


@pytest.mark.parametrize("broken", ["fsync", "replace"])
def test_when_writing_fails_the_old_file_is_whole_and_nothing_is_left_beside_it(
    tmp_path, monkeypatch, broken
):
    path = tmp_path / "case.json"
    write_case(path, case())

    def fails(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(case_file.os, broken, fails)
    with pytest.raises(Unreadable, match=r"No space left on device\); what was there is unchanged"):
        write_case(path, case(diagnosis="new"))
    assert read_case(path, complete=False) == case()
    assert os.listdir(tmp_path) == ["case.json"]


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(Unreadable, match=r"cannot be written \(No such file.*Check the folder"):
        write_case(tmp_path / "none" / "case.json", case())


def test_a_problem_names_the_file(tmp_path):
    path = tmp_path / "case.json"
    write_case(path, case())
    with pytest.raises(UnreadableCase, match=r"case\.json: \$\.films: no frontal film"):
        read_case(path)


def test_a_file_that_is_not_there_or_is_none_is_said(tmp_path):
    with pytest.raises(Unreadable, match=r"No such file or directory\). Check its name"):
        read_case(tmp_path / "none.json")
    with pytest.raises(Unreadable, match=r"this is no ordinary file"):
        read_case(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(Unreadable, match=r"this is no ordinary file"):
        read_case(tmp_path / "pipe")


def test_two_hundred_megabytes_are_refused_before_they_are_opened(tmp_path, monkeypatch):
    path = tmp_path / "case.json"
    with path.open("wb") as file:
        file.truncate(200_000_000)
    monkeypatch.setattr(case_file.Path, "open", lambda *_: pytest.fail("the file was opened"))
    with pytest.raises(Unreadable, match=r"200,000,000 bytes, expected at most 20,000,000"):
        read_case(path)


def test_film_images_lie_beside_the_case(tmp_path):
    (tmp_path / "images").mkdir()
    (tmp_path / "images" / "f.dcm").write_bytes(b"pixels")
    digest = hashlib.sha256(b"pixels").hexdigest()
    path = tmp_path / "case.json"
    assert film_bytes(path, film(file="images/f.dcm", sha256=digest)) == b"pixels"
    assert film_bytes(path, film(file="images/f.dcm")) == b"pixels"


def test_another_image_under_the_same_name_is_refused(tmp_path):
    (tmp_path / "f.dcm").write_bytes(b"other")
    with pytest.raises(Contradiction, match=r"has SHA-256 d9298a10d1b0….*not the one that was read"):
        film_bytes(tmp_path / "case.json", film(file="f.dcm", sha256="0" * 64))


def test_a_link_out_of_the_folder_is_refused(tmp_path):
    (tmp_path / "case").mkdir()
    (tmp_path / "secret").write_bytes(b"secret")
    (tmp_path / "case" / "f.dcm").symlink_to(tmp_path / "secret")
    with pytest.raises(Refused, match=r"does not lie in the folder of the case"):
        film_bytes(tmp_path / "case" / "case.json", film(file="f.dcm"))


def test_a_name_that_leads_out_is_refused_even_if_a_film_could_hold_it(tmp_path):
    (tmp_path / "case").mkdir()
    (tmp_path / "secret").write_bytes(b"secret")
    leading_out = film(file="f.dcm")
    object.__setattr__(leading_out, "file", "../secret")
    with pytest.raises(Refused, match=r"'\.\./secret' does not lie in the folder"):
        film_bytes(tmp_path / "case" / "case.json", leading_out)


def test_a_film_without_image_is_said(tmp_path):
    with pytest.raises(Missing, match=r"film 'f': the film has no image file"):
        film_bytes(tmp_path / "case.json", film())


def test_an_image_that_is_too_large_is_refused(tmp_path):
    with (tmp_path / "f.dcm").open("wb") as file:
        file.truncate(600_000_000)
    with pytest.raises(Unreadable, match=r"600,000,000 bytes, expected at most 500,000,000"):
        film_bytes(tmp_path / "case.json", film(file="f.dcm"))
