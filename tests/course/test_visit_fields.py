from datetime import date

import pytest

from limbwright.course.alignment import Alignment
from limbwright.course.clinical import Clinical, NerveSign
from limbwright.course.fibula_migration import FibulaMigration
from limbwright.course.new_bone import CortexReading, NewBone
from limbwright.course.visit import Visit
from limbwright.error import Contradiction, OutOfRange
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.view import Border
from limbwright.quantity import Directed, Measured, Sense


def cortices(*ratios):
    return tuple(
        CortexReading(cortex=border, pixel_value_ratio=ratio)
        for border, ratio in zip(Border, ratios, strict=False)
    )


def test_the_third_best_cortex_decides():
    four = NewBone(bone=Bone.TIBIA, cortices=cortices(0.95, 0.70, 0.91, 0.85))
    assert four.carrying_ratio(default_sd=0.03) == Measured(value=0.85, sd=0.03, unit="")
    assert (four.dense(0.9), four.dense(0.85), four.bridged()) == (2, 3, None)


def test_of_two_cortices_the_lower_decides_and_of_none_nothing():
    two = NewBone(bone=Bone.TIBIA, cortices=cortices(0.95, 0.88))
    assert two.carrying_ratio(default_sd=0.03).value == 0.88
    none = NewBone(bone=Bone.TIBIA, cortices=(CortexReading(cortex=Border.MEDIAL, bridged=True),))
    assert none.carrying_ratio(default_sd=0.03) is None
    assert (none.dense(0.9), none.bridged()) == (None, 1)


def test_a_reading_s_own_uncertainty_is_used():
    one = NewBone(
        bone=Bone.TIBIA,
        cortices=(CortexReading(cortex=Border.MEDIAL, pixel_value_ratio=0.8, pixel_value_ratio_sd=0.06),),
    )
    assert one.carrying_ratio(default_sd=0.03).sd == 0.06


@pytest.mark.parametrize(
    ("build", "error", "message"),
    [
        (lambda: NewBone(bone=Bone.TIBIA, width_ratio=9), OutOfRange, r"width_ratio is 9"),
        (lambda: NewBone(bone=Bone.TIBIA, width_ratio_sd=3), OutOfRange, r"width_ratio_sd is 3"),
        (
            lambda: NewBone(bone=Bone.TIBIA, cortices=(CortexReading(cortex=Border.MEDIAL),) * 2),
            Contradiction,
            r"one cortex is read twice \(medial, medial\)",
        ),
        (
            lambda: CortexReading(cortex=Border.MEDIAL, pixel_value_ratio=90),
            OutOfRange,
            r"pixel_value_ratio is 90",
        ),
        (
            lambda: CortexReading(cortex=Border.MEDIAL, pixel_value_ratio_sd=2),
            OutOfRange,
            r"pixel_value_ratio_sd is 2",
        ),
        (lambda: Clinical(ankle_dorsiflexion_deg=-95), OutOfRange, r"ankle_dorsiflexion_deg is -95 deg"),
        (lambda: Clinical(pain_0_to_10=11), OutOfRange, r"pain_0_to_10 is 11"),
        (lambda: FibulaMigration(head_distal_mm=200), OutOfRange, r"head_distal_mm is 200 mm"),
        (
            lambda: Alignment(
                bone=Bone.TIBIA, frontal=Directed(magnitude=3, direction=Sense.PROCURVATUM, unit="deg")
            ),
            OutOfRange,
            r"frontal is 3 deg procurvatum, expected deg with varus or valgus",
        ),
        (lambda: Alignment(bone=Bone.TIBIA, angle_sd_deg=-1), OutOfRange, r"angle_sd_deg is -1 deg"),
        (
            lambda: Visit(seen_on=date(2026, 3, 3), new_bone=(NewBone(bone=Bone.TIBIA),) * 2),
            Contradiction,
            r"new_bone: new bone is given twice",
        ),
    ],
)
def test_impossible_readings_are_refused(build, error, message):
    with pytest.raises(error, match=message):
        build()


def test_marks_are_kept_once_for_each_film(film):
    visit = Visit(seen_on=date(2026, 3, 3), marks=(film(),))
    assert visit.marks_of(Bone.TIBIA, Projection.FRONTAL) is visit.marks[0]
    assert visit.marks_of(Bone.TIBIA, Projection.SAGITTAL) is None
    with pytest.raises(Contradiction, match=r"marks are given twice for one film"):
        Visit(seen_on=date(2026, 3, 3), marks=(film(), film()))


def test_weakness_is_told_from_numbness():
    assert NerveSign.FOOT_DROP.motor
    assert not NerveSign.NUMB_FIRST_WEB.motor


def test_no_angulation_has_no_direction():
    straight = Alignment(bone=Bone.TIBIA, frontal=Directed(magnitude=0, direction=Sense.NONE, unit="deg"))
    assert (straight.varus_deg, straight.procurvatum_deg) == (0, None)
