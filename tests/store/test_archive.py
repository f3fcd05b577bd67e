"""Export and import: nothing is lost on the way, and nothing is taken on trust."""

import json
import stat
import zipfile
from dataclasses import replace

import pytest

from limbwright.case.caution import CAUTION
from limbwright.error import Contradiction, Missing, Refused, Unreadable
from limbwright.practice.document import profile_to_toml
from limbwright.practice.profile import Profile
from limbwright.store.audit import Action
from limbwright.store.export import export_archive
from limbwright.store.import_ import import_archive
from limbwright.store.manifest import MANIFEST, case_entry, film_entry
from limbwright.store.practice import Kind
from limbwright.store.store import open_store
from limbwright.store.trouble import Unavailable

FILM = bytes(range(256)) * 5000


@pytest.fixture
def other(tmp_path, clock):
    """A second, empty practice."""
    with open_store(tmp_path / "other", now=clock) as opened:
        yield opened


@pytest.fixture
def filled(store, invented, film):
    """Two cases with a history, three films of which one is not here, a profile."""
    one, two = store.films.put(FILM).sha256, store.films.put(b"second film").sha256
    case = invented(films=(film(sha256=one, file="one.dcm"), film("gone", sha256="0" * 64)))
    store.cases.create(case, who="dr a", why="films", beside={"draft": [1, 2]})
    store.cases.save(replace(case, diagnosis="ü 膝\x00"), based_on=1, who="dr b", why="diagnosis")
    store.cases.restore("invented-1", 1, based_on=2, who="dr a", why="")
    store.cases.create(invented("invented-2", films=(film(sha256=two),)), who="dr b", why="")
    store.practice.save(Kind.PROFILE, profile_to_toml(Profile()), based_on=0, who="dr a", why="")
    return store


def content_of(store):
    """Everything an export has to carry."""
    cases = {
        case_id: [
            (
                version,
                store.cases.document_at(case_id, version.number),
                store.cases.beside(case_id, version.number),
            )
            for version in store.cases.versions(case_id)
        ]
        for case_id in store.cases.ids()
    }
    films = {sha256: store.films.get(sha256) for sha256 in store.films.all()}
    documents = {
        kind: [store.practice.at(kind, v.number) for v in store.practice.versions(kind)] for kind in Kind
    }
    return cases, films, documents


def test_a_whole_practice_comes_back_value_for_value_and_byte_for_byte(filled, other, tmp_path):
    exported = export_archive(filled, tmp_path / "practice.zip", who="dr a")
    assert [f.id for f in exported.findings] == ["export-film-absent"]
    assert exported.manifest.absent_films == ("0" * 64,)
    imported = import_archive(other, tmp_path / "practice.zip", who="dr c")
    assert content_of(other) == content_of(filled)
    assert set(imported.new_cases) == {"invented-1", "invented-2"}
    assert (imported.new_films, imported.new_documents) == (2, 1)
    assert [(e.who, e.action, e.subject) for e in other.audit.all()] == [
        ("dr c", Action.IMPORTED, "versions 1 to 3"),
        ("dr c", Action.IMPORTED, "versions 1 to 1"),
    ]
    (line, *_) = other.listed(today=exported.manifest.made_at.date(), search="invented-1")
    assert (line.version, line.updated_by) == (3, "dr a")


def test_what_was_imported_exports_to_the_same_entries(filled, other, tmp_path):
    export_archive(filled, tmp_path / "one.zip", who="a")
    import_archive(other, tmp_path / "one.zip", who="a")
    export_archive(other, tmp_path / "two.zip", who="a")
    with zipfile.ZipFile(tmp_path / "one.zip") as one, zipfile.ZipFile(tmp_path / "two.zip") as two:
        assert sorted(one.namelist()) == sorted(two.namelist())
        for name in one.namelist():
            if name != MANIFEST:
                assert one.read(name) == two.read(name)


def test_one_case_travels_alone_with_the_caution(filled, other, tmp_path):
    export_archive(filled, tmp_path / "case.zip", who="dr a", case_ids=["invented-2"])
    with zipfile.ZipFile(tmp_path / "case.zip") as archive:
        manifest = json.loads(archive.read(MANIFEST))
    assert manifest["caution"] == CAUTION
    assert manifest["documents"] == []
    import_archive(other, tmp_path / "case.zip", who="dr a")
    assert list(other.cases.ids()) == ["invented-2"]
    assert len(list(other.films.all())) == 1
    exports = [e.case_id for e in filled.audit.all() if e.action is Action.EXPORTED]
    assert exports == ["invented-2"]


def test_importing_twice_changes_nothing_and_newer_versions_are_added(filled, other, tmp_path, invented):
    export_archive(filled, tmp_path / "old.zip", who="a")
    import_archive(other, tmp_path / "old.zip", who="a")
    again = import_archive(other, tmp_path / "old.zip", who="a")
    assert (set(again.known_cases), again.new_cases, again.new_films) == (
        {"invented-1", "invented-2"},
        (),
        0,
    )
    case, version = filled.cases.current("invented-2")
    filled.cases.save(replace(case, diagnosis="later"), based_on=version, who="a", why="")
    export_archive(filled, tmp_path / "new.zip", who="a")
    assert import_archive(other, tmp_path / "new.zip", who="a").continued_cases == ("invented-2",)
    assert content_of(other) == content_of(filled)
    assert import_archive(other, tmp_path / "old.zip", who="a").known_cases == ("invented-1", "invented-2")
    assert other.cases.at("invented-2").diagnosis == "later"


def test_histories_that_part_are_refused_and_both_stay(filled, other, tmp_path):
    export_archive(filled, tmp_path / "old.zip", who="a")
    import_archive(other, tmp_path / "old.zip", who="a")
    for store in (filled, other):
        case, version = store.cases.current("invented-2")
        store.cases.save(replace(case, diagnosis=str(store.address)), based_on=version, who="a", why="")
    export_archive(filled, tmp_path / "new.zip", who="a")
    before = content_of(other)
    with pytest.raises(Contradiction, match="version 2 here is another one than in the archive"):
        import_archive(other, tmp_path / "new.zip", who="a")
    assert content_of(other) == before


def test_profiles_that_part_are_refused(filled, other, tmp_path):
    other.practice.save(Kind.PROFILE, profile_to_toml(Profile()) + "# ours\n", based_on=0, who="x", why="")
    export_archive(filled, tmp_path / "all.zip", who="a")
    with pytest.raises(Contradiction, match="the practice profile"):
        import_archive(other, tmp_path / "all.zip", who="a")
    assert list(other.cases.ids()) == []


def test_an_export_overwrites_nothing_and_leaves_no_half_file(filled, tmp_path):
    (tmp_path / "there.zip").write_bytes(b"precious")
    with pytest.raises(Refused, match="is there already"):
        export_archive(filled, tmp_path / "there.zip", who="a")
    assert (tmp_path / "there.zip").read_bytes() == b"precious"
    with pytest.raises(Missing, match="there is no such case"):
        export_archive(filled, tmp_path / "new.zip", who="a", case_ids=["nobody"])
    with pytest.raises(Unavailable, match="nothing was exported"):
        export_archive(filled, tmp_path / "no folder" / "new.zip", who="a")
    sha256 = next(filled.films.all())
    filled.films.path(sha256).chmod(0o600)
    filled.films.path(sha256).write_bytes(b"damaged")
    with pytest.raises(Contradiction, match="no longer the ones that were stored"):
        export_archive(filled, tmp_path / "new.zip", who="a")
    assert sorted(p.name for p in tmp_path.glob("*.zip*")) == ["there.zip"]
    assert [p for p in tmp_path.iterdir() if p.name.endswith(".part")] == []


# -- archives that somebody made to do harm


@pytest.fixture
def archive(local_store, invented, film, tmp_path):
    """A good archive, and a way to write it again with something changed."""
    sha256 = local_store.films.put(FILM).sha256
    local_store.cases.create(invented(films=(film(sha256=sha256),)), who="a", why="")
    path = tmp_path / "good.zip"
    export_archive(local_store, path, who="a")

    def again(*, manifest=lambda m: m, change=None, more=(), leave_out=()):
        target = tmp_path / "bad.zip"
        with zipfile.ZipFile(path) as good, zipfile.ZipFile(target, "w") as bad:
            for info in good.infolist():
                data = good.read(info)
                if info.filename == MANIFEST:
                    data = json.dumps(manifest(json.loads(data))).encode()
                if info.filename not in leave_out:
                    bad.writestr(info.filename, (change or {}).get(info.filename, data))
            for info, data, kind in more:
                bad.writestr(info, data, kind)
        return target

    again.path = path
    again.film = film_entry(sha256)
    return again


def refused(other, path, words):
    with pytest.raises(Unreadable, match=words) as caught:
        import_archive(other, path, who="a")
    assert "imported" in caught.value.next_step or "readable" in str(caught.value)
    assert list(other.cases.ids()) == []
    assert [p.name for p in other.films.folder.iterdir() if p.name.endswith(".part")] == []


def test_the_good_archive_is_good(archive, other):
    assert import_archive(other, archive(), who="a").new_cases == ("invented-1",)


@pytest.mark.parametrize("name", ["../../evil", "/etc/evil", "cases\\..\\evil", "C:evil", "evil", "films/"])
def test_entries_that_are_not_listed_are_refused(archive, other, name):
    path = archive(more=[(name, b"x", zipfile.ZIP_STORED)])
    refused(other, path, "is not in its list of contents")


def test_links_are_refused(archive, other):
    link = zipfile.ZipInfo(archive.film)
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    path = archive(leave_out=[archive.film], more=[(link, b"/etc/passwd", zipfile.ZIP_STORED)])
    refused(other, path, "is a link")


def test_an_entry_that_stands_twice_is_refused(archive, other):
    with pytest.warns(UserWarning, match="Duplicate name"):
        path = archive(more=[(case_entry(1, 1), b"{}", zipfile.ZIP_STORED)])
    refused(other, path, "stands twice")


def test_a_document_packed_beyond_belief_is_refused(archive, other):
    name = case_entry(1, 1)
    path = archive(leave_out=[name], more=[(name, b" " * 19_000_000, zipfile.ZIP_DEFLATED)])
    refused(other, path, "packed beyond belief")


def test_a_size_that_lies_is_found_while_reading(archive, other):
    """The directory says 1000 bytes, the data unpack to twenty million."""
    name = case_entry(1, 1)
    path = archive(leave_out=[name], more=[(name, b" " * 20_000_000, zipfile.ZIP_DEFLATED)])
    data = bytearray(path.read_bytes())
    size = (20_000_000).to_bytes(4, "little")
    for place in [i for i in range(len(data) - 4) if data[i : i + 4] == size]:
        data[place : place + 4] = (1000).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    refused(other, path, "damaged|not the one that was exported")


def test_an_endless_list_of_entries_is_refused_before_it_is_read(archive, other):
    data = bytearray(archive.path.read_bytes())
    end = data.rfind(b"PK\x05\x06")
    data[end + 12 : end + 16] = (0xF0000000).to_bytes(4, "little")
    path = archive.path.with_name("endless.zip")
    path.write_bytes(bytes(data))
    refused(other, path, "it lists")


def test_other_ways_of_packing_are_refused(archive, other):
    name = case_entry(1, 1)
    refused(other, archive(leave_out=[name], more=[(name, b"{}", zipfile.ZIP_BZIP2)]), "unknown way")


def test_changed_contents_are_refused(archive, other):
    refused(other, archive(change={archive.film: FILM + b"x"}), "other bytes than its list")
    refused(other, archive(change={case_entry(1, 1): b"{}"}), "not the one that was exported")
    refused(other, archive(leave_out=[archive.film]), "is missing")
    refused(other, archive(leave_out=[MANIFEST]), "has no list of contents")


def version_with(**fields):
    def changed(manifest):
        manifest["cases"][0]["versions"][0] |= fields
        return manifest

    return changed


@pytest.mark.parametrize(
    ("manifest", "words"),
    [
        (
            lambda m: {**m, "format_version": 2},
            "an archive of version 2; this program reads versions up to 1",
        ),
        (lambda m: {**m, "format": "another"}, "another format"),
        (lambda m: {**m, "more": 1}, "more"),
        (lambda m: [], "cannot be read"),
        (lambda m: {**m, "cases": m["cases"] * 2}, "a case stands twice"),
        (lambda m: {**m, "films": m["films"] * 2}, "a film stands twice"),
        (version_with(number=2), "numbered from 1"),
        (version_with(sha256="../x"), "no SHA-256"),
        (version_with(saved_at="2026-01-01T00:00:00"), "without a time zone"),
        (version_with(schema_version=99), "schema version 99"),
        (version_with(beside="[]"), "no JSON object"),
        (version_with(parts=["a b"]), "has no name of one"),
    ],
)
def test_a_list_of_contents_that_cannot_be_true_is_refused(archive, other, manifest, words):
    refused(other, archive(manifest=manifest), words)


def test_a_document_of_another_case_is_refused(archive, other):
    def another(manifest):
        manifest["cases"][0]["id"] = "somebody-else"
        return manifest

    refused(other, archive(manifest=another), "the document is of another case")


@pytest.mark.parametrize("content", [b"", b"PK", b"not a zip at all" * 10, b"PK\x05\x06" + bytes(18)])
def test_what_is_no_archive_is_refused(other, tmp_path, content):
    path = tmp_path / "odd.zip"
    path.write_bytes(content)
    refused(other, path, "no ZIP file|no list of contents|damaged")


def test_a_file_that_is_not_there_is_named(other, tmp_path):
    with pytest.raises(Unreadable, match="cannot be read"):
        import_archive(other, tmp_path / "nothing.zip", who="a")


def test_every_cut_short_archive_is_refused(archive, other):
    data = archive.path.read_bytes()
    path = archive.path.with_name("short.zip")
    for length in range(0, len(data), len(data) // 23):
        path.write_bytes(data[:length])
        refused(other, path, "archive cannot be read")
