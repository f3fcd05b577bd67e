"""Reading a catalogue file."""

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import Contradiction, LimbwrightError, Missing, OutOfRange, Unreadable
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.file_table import line_of
from limbwright.implant.reading import LONGEST_FILE_CHARACTERS, catalogue_from_toml

DOCS = Path(__file__).parents[2] / "docs"

GOOD = """\
title = "Ours"

[[family]]
name = "T-{diameter}/{length}"
bone = "tibia"
direction = "antegrade"
lengths_mm = [245, 275]
stroke_mm = 50
exposed_thin_mm = 30
elastic_modulus_gpa = 114
diameters = [
  { thick_mm = 8.5, thin_mm = 6.5, weight_limit_kg = 14 },
  { thick_mm = 10.7, thin_mm = 8 },
]
holes = [
  { end = "thick", distance_mm = 20, direction = "mediolateral", screw_diameter_mm = 5 },
]

[[screw]]
name = "b"
purpose = "blocking"
diameter_mm = 5
core_diameter_mm = 4.2
drill_mm = 4.2
solid = true
"""


def test_a_family_becomes_every_nail_of_its_diameters_and_lengths() -> None:
    catalogue = catalogue_from_toml(GOOD)
    assert [n.name for n in catalogue.nails] == ["T-8.5/245", "T-8.5/275", "T-10.7/245", "T-10.7/275"]
    assert [n.weight_limit_kg for n in catalogue.nails] == [14, 14, None, None]
    assert catalogue.nails[0].holes[0].distance_mm == 20
    assert catalogue.screws[0].solid
    assert not catalogue.invented


@pytest.mark.parametrize(
    ("old", "new", "kind", "message"),
    [
        ('title = "Ours"', "", Missing, "nail catalogue: title is not given, expected a text in quotes"),
        ("stroke_mm = 50\n", "", Missing, "line 3, family 1: stroke_mm is not given, expected a number"),
        ("stroke_mm = 50", "stroke = 50", Missing, "stroke_mm is not given"),
        (
            "stroke_mm = 50",
            "stroke_mm = 50\nstrok = 1",
            OutOfRange,
            "line 9, family 1, strok: there is no key 'strok'",
        ),
        (
            "stroke_mm = 50",
            'stroke_mm = "50"',
            OutOfRange,
            "line 8, family 1, stroke_mm: stroke_mm is '50', expected a",
        ),
        ("stroke_mm = 50", "stroke_mm = true", OutOfRange, "stroke_mm is True, expected a number"),
        (
            "stroke_mm = 50",
            "stroke_mm = 230",
            OutOfRange,
            r"line 3, family 1: stroke of nail 'T-8\.5/245'.*5 to 200 mm",
        ),
        (
            '"tibia"',
            '"shin"',
            OutOfRange,
            'line 5, family 1, bone: bone is \'shin\', expected "femur" or "tibia"',
        ),
        ("[245, 275]", "[]", OutOfRange, r"line 7, family 1, lengths_mm: .*a list of numbers, as in \[245"),
        ("[245, 275]", '[245, "275"]', OutOfRange, "lengths_mm is '275', expected a number"),
        ("[245, 275]", "[245, 245]", Contradiction, r"2 name\(s\) stand twice among the nails: 'T-8\.5/245'"),
        (
            "T-{diameter}/{length}",
            "T-{diameter}",
            OutOfRange,
            r"for 2 different sizes, expected \{length\} in it",
        ),
        (
            "thin_mm = 6.5",
            "thin_mm = 9",
            OutOfRange,
            r"line 3, family 1: nail 'T-8\.5/245': thin part 9 mm is not thinner",
        ),
        (
            "thin_mm = 8 }",
            "thin = 8 }",
            Missing,
            "line 11, family 1, diameters entry 2: thin_mm is not given",
        ),
        (
            'end = "thick"',
            'end = "top"',
            OutOfRange,
            'line 15, family 1, holes entry 1, end: .*"thick" or "thin"',
        ),
        (
            "distance_mm = 20",
            "distance_mm = 0",
            OutOfRange,
            "line 15, family 1, holes entry 1: hole distance: .* is 0 mm",
        ),
        (
            "drill_mm = 4.2",
            "drill_mm = 6",
            OutOfRange,
            "line 19, screw 1: screw 'b': drill 6 mm, expected between",
        ),
        ("solid = true", 'solid = "yes"', OutOfRange, "solid is 'yes', expected true or false"),
        ('title = "Ours"', "title = 7", OutOfRange, "line 1, title: title is 7, expected a text in quotes"),
        (
            'title = "Ours"',
            'title = "Ours"\nnails = 3',
            OutOfRange,
            "line 2, nails: there is no key 'nails' here",
        ),
        ("[[family]]", "[family]", OutOfRange, r"family is not a list of tables.*\[\[family\]\]"),
    ],
)
def test_a_wrong_entry_is_named_with_its_line(
    old: str, new: str, kind: type[Exception], message: str
) -> None:
    assert old in GOOD
    with pytest.raises(kind, match=message):
        catalogue_from_toml(GOOD.replace(old, new, 1))


@pytest.mark.parametrize("value", ["3", "[]", "[3]"])
def test_diameters_need_entries(value: str) -> None:
    head, rest = GOOD.split("diameters = [", 1)
    text = head + f"diameters = {value}\n" + rest.split("\n]\n", 1)[1]
    with pytest.raises(OutOfRange, match=r"diameters is .*in braces"):
        catalogue_from_toml(text)


def test_what_is_not_toml_is_refused_with_its_line() -> None:
    with pytest.raises(Unreadable, match=r"not valid TOML: .*line 2"):
        catalogue_from_toml('title = "x"\nnote = =\n')


def test_a_huge_file_or_list_is_refused() -> None:
    with pytest.raises(Unreadable, match="expected at most 2000000"):
        catalogue_from_toml("#" * (LONGEST_FILE_CHARACTERS + 1))
    lengths = "[" + ", ".join(str(200 + k / 100) for k in range(6000)) + "]"
    with pytest.raises(
        OutOfRange, match="line 7, family 1, lengths_mm: the catalogue has more than 5000 nails"
    ):
        catalogue_from_toml(GOOD.replace("[245, 275]", lengths))


def test_the_place_of_a_key_is_left_out_where_it_cannot_be_told() -> None:
    assert line_of("a = 1\n[[t]]\nb = 2\n[[t]]\nb = 3\n", name="t", number=2, key="b") == 5
    assert line_of("t = [{b = 2}]", name="t", number=1, key="b") is None


def test_the_example_in_the_docs_reads_as_the_docs_say() -> None:
    page = (DOCS / "catalogue.md").read_text(encoding="utf-8")
    catalogue = catalogue_from_toml(page.split("```toml\n", 1)[1].split("```", 1)[0])
    assert [n.name for n in catalogue.nails][:: len(catalogue.nails) - 1] == ["T-8.5/245", "T-10.7/305"]
    assert len(catalogue.nails) == 6
    assert catalogue.nail("T-10.7/305").overlap_at_mm(osteotomy_depth_mm=150, lengthening_mm=50) == 75


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader_in_any_other_way(text: str) -> None:
    with suppress(LimbwrightError):
        assert isinstance(catalogue_from_toml(text), Catalogue)
