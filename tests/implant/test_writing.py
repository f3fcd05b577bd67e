"""What is written is read back exactly."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import LimbwrightError
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.implant.reading import catalogue_from_toml
from limbwright.implant.screw import Purpose, ScrewType
from limbwright.implant.shipped import shipped_catalogue
from limbwright.implant.writing import catalogue_to_toml
from limbwright.limb.anatomy import Bone, Projection

NAMES = st.text(min_size=1, max_size=12).filter(lambda s: s.strip() and "{" not in s and "}" not in s)


@st.composite
def nails(draw: st.DrawFn) -> Nail:
    bend_deg = draw(st.sampled_from([0.0, 10.0]))
    return Nail(
        name=draw(st.sampled_from(["", "N-245/245 ", "x"])) + draw(NAMES),
        bone=Bone.FEMUR,
        direction=draw(st.sampled_from(Direction)),
        thick_diameter_mm=draw(st.floats(8, 14)),
        thin_diameter_mm=draw(st.floats(6, 7.9)),
        thick_bore_mm=draw(st.sampled_from([0.0, 5.5])),
        length_mm=draw(st.sampled_from([245.0, 275.0, 301.3333333333333])),
        stroke_mm=draw(st.floats(5, 80)),
        exposed_thin_mm=draw(st.floats(30, 60)),
        bend_deg=bend_deg,
        bend_depth_mm=45.0 if bend_deg else 0.0,
        bend_plane=draw(st.sampled_from(Projection)),
        holes=tuple(
            Hole(
                end=draw(st.sampled_from(NailEnd)),
                distance_mm=draw(st.floats(5, 25)),
                direction=draw(st.sampled_from(HoleDirection)),
                screw_diameter_mm=4.0,
            )
            for _ in range(draw(st.integers(0, 2)))
        ),
        elastic_modulus_gpa=draw(st.floats(100, 200)),
        weight_limit_kg=draw(st.none() | st.floats(10, 50)),
        rate_limit_mm_per_day=draw(st.none() | st.floats(0.5, 2)),
        reamer_over_mm=draw(st.none() | st.floats(0, 3)),
    )


@given(
    title=st.text(max_size=30),
    note=st.text(max_size=80),
    invented=st.booleans(),
    members=st.lists(nails(), max_size=4, unique_by=lambda n: n.name),
)
def test_round_trip(title: str, note: str, invented: bool, members: list[Nail]) -> None:
    screw = ScrewType(
        name="s", purpose=Purpose.FIXATOR_PIN, diameter_mm=5, core_diameter_mm=4, drill_mm=4.5, solid=False
    )
    catalogue = Catalogue(title=title, note=note, invented=invented, nails=tuple(members), screws=(screw,))
    assert catalogue_from_toml(catalogue_to_toml(catalogue)) == catalogue


def test_nails_that_differ_in_length_are_written_as_one_family() -> None:
    text = catalogue_to_toml(shipped_catalogue())
    assert catalogue_from_toml(text) == shipped_catalogue()
    assert text.count("[[family]]") == 13
    assert 'name = "T-10.7/{length}"' in text
    assert "not a medical device" in text


def test_nails_with_names_of_their_own_are_written_one_by_one() -> None:
    first, second = shipped_catalogue().nails[:2]
    short, long = (
        Nail(**{f: getattr(n, f) for f in Nail.__slots__} | {"name": name})
        for n, name in ((first, "short"), (second, "long"))
    )
    catalogue = Catalogue(title="named", nails=(short, long))
    assert catalogue_to_toml(catalogue).count("[[family]]") == 2
    assert catalogue_from_toml(catalogue_to_toml(catalogue)) == catalogue


def test_the_written_file_is_refused_when_spoilt() -> None:
    with pytest.raises(LimbwrightError, match="family 1"):
        catalogue_from_toml(catalogue_to_toml(shipped_catalogue()).replace("stroke_mm", "stroke", 1))
