"""Drift of the draws: both planes together, and the fit that stands for it."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.mechanics import Plane, draws
from limbwright.plan.uncertainty import bone_draws
from limbwright.plan.uncertainty.bone_draws import BoneDraws, BonePlanned
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def bone(tibia) -> BoneDraws:  # type: ignore[no-untyped-def]
    return BoneDraws(BonePlanned(plan=tibia.found.plan, forecast=tibia.forecast), Profile())


def test_without_errors_the_draw_is_the_forecast(bone, tibia) -> None:
    middle = {s.name: np.array([float(s.centre)]) for s in bone.spreads()}
    slips, angulation = bone.slips(middle)
    assert slips == pytest.approx(np.zeros((1, 5)), abs=1e-9)
    for plane in Plane:
        wanted = tibia.forecast.planned.end.in_plane(plane).angulation_deg
        assert angulation[plane] == pytest.approx([wanted])


def test_the_fit_stands_for_both_planes_together(bone, monkeypatch) -> None:
    drawn = draws(tuple(bone.spreads()), count=1500, seed=2)
    fitted = bone.both.drawn(drawn)
    monkeypatch.setattr(bone_draws, "FITTED", 1500)
    whole = bone.both.drawn(drawn)
    assert fitted[:256] == pytest.approx(whole[:256], nan_ok=True)
    known = np.isfinite(whole).all(axis=1) & np.isfinite(fitted).all(axis=1)
    assert known.mean() > 0.98
    assert np.all((fitted - whole)[known].std(axis=0) < (0.15, 0.15, 0.25, 0.25))
    assert fitted[known].std(axis=0) == pytest.approx(whole[known].std(axis=0), rel=0.04)
    assert fitted[known].mean(axis=0) == pytest.approx(whole[known].mean(axis=0), abs=0.03)


def test_what_both_planes_share_is_drawn_once(bone) -> None:
    names = [s.name for s in bone.spreads()]
    assert len(names) == len(set(names))
    assert names.count("tibia stiffness_factor") == 1
    assert {f"tibia {p} moment_factor" for p in Plane} <= set(names)


def test_a_plane_without_a_number_leaves_the_other_alone(tibia) -> None:
    moments = tibia.forecast.planned.moments
    blind = replace(moments[-1], sagittal=replace(moments[-1].sagittal, angulation_deg=None))
    course = replace(tibia.forecast.planned, moments=(*moments[:-1], blind))
    made = BoneDraws(
        BonePlanned(plan=tibia.found.plan, forecast=replace(tibia.forecast, planned=course)), Profile()
    )
    assert made.both is None
    slips, angulation = made.slips(draws(tuple(made.spreads()), count=64, seed=1))
    assert list(angulation) == [Plane.FRONTAL]
    assert np.isfinite(slips[:, 1]).all()
