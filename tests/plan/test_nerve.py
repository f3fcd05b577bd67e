import pytest

from limbwright.limb.anatomy import Bone
from limbwright.plan.nerve import nerve_findings, nerve_stretch_deg
from limbwright.practice.profile import Profile


def ids(valgus: float = 0, flexion: float = 0, *, acute: bool = True, lengthening: float = 0) -> list[str]:
    found = nerve_findings(
        bone=Bone.TIBIA,
        valgus_taken_out_deg=valgus,
        flexion_taken_out_deg=flexion,
        acute=acute,
        lengthening_mm=lengthening,
        profile=Profile(),
    )
    return [f.id for f in found]


def test_only_what_stretches_the_nerve_counts() -> None:
    assert nerve_stretch_deg(
        valgus_before_deg=9, valgus_after_deg=1, flexion_before_deg=4, flexion_after_deg=0
    ) == (8, 4)
    assert nerve_stretch_deg(
        valgus_before_deg=-9, valgus_after_deg=0, flexion_before_deg=-4, flexion_after_deg=0
    ) == (0, 0)


@pytest.mark.parametrize(
    ("valgus", "flexion", "acute", "expected"),
    [
        (5.0, 0, True, False),
        (5.1, 0, True, True),
        (0, 5.1, True, True),
        (15.0, 0, False, False),
        (15.1, 0, False, True),
    ],
)
def test_limits_at_once_and_gradually(valgus: float, flexion: float, acute: bool, expected: bool) -> None:
    assert ("nerve-stretched-by-correction" in ids(valgus, flexion, acute=acute)) is expected


def test_lengthening_is_watched_in_any_case() -> None:
    assert ids(lengthening=30) == ["nerve-watch-while-lengthening"]
    assert ids() == []


def test_words_name_both_angles() -> None:
    found = nerve_findings(
        bone=Bone.TIBIA,
        valgus_taken_out_deg=8,
        flexion_taken_out_deg=6,
        acute=True,
        lengthening_mm=0,
        profile=Profile(),
    )
    assert "8.0 degrees of valgus and 6.0 degrees of flexion at once, more than 5" in found[0].words
