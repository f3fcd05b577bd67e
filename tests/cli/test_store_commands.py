"""Backup, restore, export, import and users from the command line."""

import zipfile
from datetime import date

import pytest
from click.testing import CliRunner

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.cli.main import cli
from limbwright.error import LimbwrightError, Missing
from limbwright.film.film import Film
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection, Side
from limbwright.store.store import open_store


@pytest.fixture
def home(tmp_path):
    with open_store(tmp_path / "home") as store:
        film = Film(
            name="frontal",
            projection=Projection.FRONTAL,
            width_px=100,
            height_px=100,
            sha256=store.films.put(b"no DICOM").sha256,
        )
        patient = Patient(id="INVENTED", sex=Sex.MALE, birth_date=date(2000, 1, 1))
        case = Case(id="invented-1", invented=True, side=Side.LEFT, patient=patient, films=(film,))
        store.cases.create(case, who="test", why="")
    return tmp_path / "home"


def run(*arguments, code=0, answers=None):
    result = CliRunner().invoke(cli, [str(a) for a in arguments], input=answers)
    if isinstance(result.exception, LimbwrightError):
        raise result.exception
    assert result.exit_code == code, result.output
    return result.stdout


def test_a_practice_goes_into_a_backup_and_back(home, tmp_path):
    said = run("backup", tmp_path / "copy", "--home", home, "--who", "nurse")
    assert "1 cases, 1 films" in said
    assert "1 cases, as of" in run("restore", tmp_path / "copy", "--home", tmp_path / "new")
    with open_store(tmp_path / "new") as store, open_store(home) as before:
        assert store.cases.at("invented-1") == before.cases.at("invented-1")
        assert before.audit.entries()[-1].who == "nurse"


def test_a_damaged_film_ends_the_backup_with_the_code_for_a_stop(home, tmp_path):
    with open_store(home) as store:
        path = store.films.path(next(store.films.all()))
        path.chmod(0o600)
        path.write_bytes(b"damaged")
    assert "store-film-damaged" not in (said := run("backup", tmp_path / "copy", "--home", home, code=4))
    assert "its bytes are not the ones that were stored" in " ".join(said.split())


def test_a_practice_goes_out_and_in(home, tmp_path):
    run("export", tmp_path / "all.zip", "--home", home)
    said = run("import", tmp_path / "all.zip", "--home", tmp_path / "other")
    assert "invented-1: new" in said
    assert "invented-1: known already" in run("import", tmp_path / "all.zip", "--home", tmp_path / "other")


def test_an_export_without_identity_says_what_was_left_out_and_carries_the_caution(home, tmp_path):
    said = run("export", tmp_path / "a.zip", "--case", "invented-1", "--without-identity", "--home", home)
    assert "1 cases, 0 films" in said
    assert "The film was left out" in " ".join(said.split())
    assert "not a medical device" in said
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        assert b"INVENTED" not in b"".join(archive.read(name) for name in archive.namelist())


@pytest.mark.parametrize("command", [("backup", "x"), ("export", "x.zip")])
def test_a_wrong_folder_is_named_and_no_empty_practice_is_made(tmp_path, command):
    with pytest.raises(Missing, match=r"holds no limbwright\.sqlite"):
        run(*command, "--home", tmp_path / "typo")
    assert list(tmp_path.iterdir()) == []


def test_users_are_added_changed_and_listed(home):
    password = "four plain words will do\n" * 2
    assert "dr-a" in run("user", "dr-a", "--may", "plan", "--home", home, answers=password)
    said = run("user", "dr-a", "--may", "sign", "--left", "--home", home)
    assert "sign" in said
    assert "has left" in said
    assert "has left" not in run("user", "dr-a", "--back", "--password", "--home", home, answers=password)
    assert "dr-a" in run("user", "--home", home)
    with open_store(home) as store:
        assert store.users.check("dr-a", "four plain words will do").role == "sign"
    with pytest.raises(Missing, match="no user 'dr-b'"):
        run("user", "dr-b", "--home", home)
