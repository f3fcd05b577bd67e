import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure
from limbwright.plan.cut import Cut, assembled, split
from limbwright.plan.decision import FragmentPath, NailPath
from limbwright.plan.leg import leg_model
from limbwright.plan.motion import STAY
from limbwright.plan.path import place_of
from limbwright.plan.reduction import reducing, reduction


def line(fragment: Fragment, upper, lower) -> FragmentPath:  # type: ignore[no-untyped-def]
    return FragmentPath(fragment=fragment, upper=place_of(upper), lower=place_of(lower))


def tibial_reduction(leg, apex: float, cut_level: float, **kwargs):  # type: ignore[no-untyped-def]
    """Lines through the canal of both fragments of an invented tibia that was bent at `apex`."""
    made = leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL))
    upper, lower = (
        leg.points[Landmark.TIBIA_DISTAL_SHAFT_UPPER],
        leg.points[Landmark.TIBIA_DISTAL_SHAFT_LOWER],
    )
    path = NailPath(
        entry=place_of([0, 0, 0]),
        proximal=line(Fragment.PROXIMAL, [0, 0, 0], [0, -80, 0]),
        distal=line(Fragment.DISTAL, upper, lower),
    )
    cut = Cut(bone=Bone.TIBIA, point_mm=(0.0, cut_level, 0.0), normal=(0.0, 1.0, 0.0))
    return made, cut, reduction(path=path, cut=cut, **kwargs)


@pytest.mark.parametrize("cut_level", [-150.0, -120.0, -190.0])
def test_bringing_the_lines_together_undoes_the_deformity(make_leg, cut_level) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -150, varus=-12, procurvatum=9)
    made, cut, reduced = tibial_reduction(leg, -150, cut_level)
    above, below = split(made, cut)
    corrected = assembled((above, below), (STAY, reduced.motion)).view(Projection.FRONTAL)
    want = {
        r.measure: r.value.value for r in readings(make_leg().view(Projection.FRONTAL), age_years=30).values
    }
    got = {r.measure: r.value.value for r in readings(corrected, age_years=30).values}
    for measure in (Measure.MPTA, Measure.LDTA, Measure.HKA):
        assert got[measure] == pytest.approx(
            want[measure], abs=0.25
        )  # oblique turns show a little else in a plane


def test_lengthening_slides_along_the_nail_and_changes_no_angle(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -150, varus=-12)
    made, cut, reduced = tibial_reduction(leg, -150, -150)
    parts = split(made, cut)
    before = assembled(parts, (STAY, reduced.motion)).view(Projection.FRONTAL)
    after = assembled(parts, (STAY, reduced.lengthened(40))).view(Projection.FRONTAL)
    a, b = ({r.measure: r.value.value for r in readings(v, age_years=30).values} for v in (before, after))
    for measure in (Measure.MPTA, Measure.LDTA, Measure.HKA, Measure.MAD):
        assert b[measure] == pytest.approx(a[measure], abs=1e-6)
    assert b[Measure.TIBIA_LENGTH] - a[Measure.TIBIA_LENGTH] == pytest.approx(40)


def test_rotation_is_corrected_only_by_what_is_asked(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -150, varus=-12)
    _made, _cut, none = tibial_reduction(leg, -150, -150)
    _made, _cut, ten = tibial_reduction(leg, -150, -150, rotation_correction_deg=10)
    forward_none = none.motion.turned([1.0, 0, 0])
    forward_ten = ten.motion.turned([1.0, 0, 0])
    assert forward_none == pytest.approx([1, 0, 0], abs=1e-9)
    assert forward_ten == pytest.approx([np.cos(np.radians(10)), 0, np.sin(np.radians(10))], abs=1e-9)


unit_lines = st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5))


@given(unit_lines, unit_lines, st.floats(-30, 30), st.floats(-40, 40))
def test_the_distal_line_lies_on_the_proximal_line(a, b, external, aside) -> None:  # type: ignore[no-untyped-def]
    u = np.array([a[0], -1, a[1]]) / np.linalg.norm([a[0], -1, a[1]])
    v = np.array([b[0], -1, b[1]]) / np.linalg.norm([b[0], -1, b[1]])
    p, q = np.array([1.0, -100, 2]), np.array([aside, -105, 7])
    rotation, translation = reducing(p, u, q, v, external)
    for s in (0.0, 50.0, 200.0):
        assert rotation @ (q + s * v) + translation == pytest.approx(p + s * u, abs=1e-9)


def test_batches_give_what_single_calls_give() -> None:
    rng = np.random.Generator(np.random.PCG64(1))
    lines = rng.normal(size=(4, 6, 3)) * 0.2 + [0, -1, 0]
    u, v = (lines[i] / np.linalg.norm(lines[i], axis=-1, keepdims=True) for i in (0, 1))
    rotation, translation = reducing(lines[2], u, lines[3], v, np.arange(6.0))
    one = reducing(lines[2][4], u[4], lines[3][4], v[4], 4.0)
    assert rotation[4] == pytest.approx(one[0])
    assert translation[4] == pytest.approx(one[1])
