from datetime import date

import pytest

from limbwright.course.new_bone import NewBone
from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone


def test_before_lengthening_while_and_after(tibia, stand):
    before, during, after = (stand(tibia, day) for day in (3, 28, 60))
    assert [(s.started, s.lengthening, s.rate_mm_per_day) for s in (before, during, after)] == [
        (False, True, 1.0),
        (True, True, 0.75),
        (True, False, 0.0),
    ]
    assert (during.on, during.bone, during.visit) == (date(2026, 3, 30), Bone.TIBIA, None)
    assert during.healing.mean_day == 143.5


def test_visits_after_the_day_are_not_known(tibia, stand, visit):
    s = stand(tibia, 28, visit(14), visit(28), visit(42))
    assert [v.seen_on for v in s.visits] == [date(2026, 3, 16), date(2026, 3, 30)]
    assert s.earlier_visit.seen_on == date(2026, 3, 16)


def test_a_visit_without_new_bone_keeps_the_last_one(tibia, stand, visit):
    s = stand(tibia, 42, visit(28, ratios=(0.92, 0.91, 0.5), bridged=(True, False, False)), visit(42))
    assert isinstance(s.new_bone, NewBone)
    assert s.cortices_that_carry() == 2
    assert stand(tibia, 42).cortices_that_carry() is None


def test_a_day_before_the_operation_is_refused(tibia, stand):
    with pytest.raises(OutOfRange, match=r"2026-02-28 lies 2 days before the operation on the tibia"):
        stand(tibia, -2)
