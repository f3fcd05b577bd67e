from dataclasses import replace

import numpy as np
import pytest

from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.view import Surface
from limbwright.plan.canal import (
    along_line,
    canal_along,
    canal_not_traced,
    clearances,
    outer_edges_mm,
)
from limbwright.plan.leg import leg_model
from limbwright.plan.motion import ANTERIOR, LATERAL, unit

DOWN = np.array([0.0, -1.0, 0.0])


def model(leg, **kwargs):  # type: ignore[no-untyped-def]
    return leg_model(leg.view(Projection.FRONTAL, **kwargs), leg.view(Projection.SAGITTAL, **kwargs))


def tibial_canal(leg, projection=Projection.FRONTAL, point=(0.0, 0.0, 0.0), direction=DOWN):  # type: ignore[no-untyped-def]
    return canal_along(
        model(leg),
        bone=Bone.TIBIA,
        fragment=Fragment.PROXIMAL,
        projection=projection,
        line_point_mm=point,
        direction=direction,
        depth_at_point_mm=0.0,
    )


def test_offsets_are_lateral_whichever_way_the_line_runs() -> None:
    points = np.array([[0.0, -50, 7], [3, -50, -7]])
    for direction in (DOWN, -DOWN):
        s, offset = along_line(points, [0.0, 0, 1], direction, LATERAL)
        assert offset == pytest.approx([6, -8])
        assert s == pytest.approx([50, 50] if direction[1] < 0 else [-50, -50])


def test_distances_along_a_line_are_not_foreshortened() -> None:
    direction = unit([0.5, -1.0, 0.0])
    points = np.array([40.0 * direction])
    s, offset = along_line(points, [0.0, 0, 0], direction, LATERAL)
    assert s == pytest.approx([40])
    assert offset == pytest.approx([0])
    s, offset = along_line(points, [0.0, 0, 0], direction, ANTERIOR)
    assert s == pytest.approx([40])


def test_the_isthmus_is_found_where_it_is(make_leg) -> None:
    canal = tibial_canal(make_leg())
    depth, width = canal.narrowest(0, 400)
    assert depth == pytest.approx(200, abs=2)
    assert width == pytest.approx(12, abs=0.02)
    assert canal.narrowest(0, 10) is None
    assert canal.depths_mm(0, 1e3)[0] == canal.inner.depth_mm[0]


def test_gaps_and_cortex_count_from_the_nails_surface(make_leg) -> None:
    canal = tibial_canal(make_leg(), point=(0.0, 0.0, 1.0))
    low, high = canal.gaps_mm(200.0, 5.0)
    assert [low, high] == pytest.approx([2.0, 0.0], abs=0.02)
    assert canal.width_mm(200.0) == pytest.approx(12.0, abs=0.02)
    assert canal.cortex_left_mm(200.0, 6.0) == pytest.approx((8.0, 6.0), abs=0.02)
    assert replace(canal, outer=None).cortex_left_mm(200.0, 6.0) is None


def test_what_was_not_traced_is_named(make_leg) -> None:
    leg = make_leg()
    leg.walls = [w for w in leg.walls if w[2] is Surface.OUTER]
    assert tibial_canal(leg) is None
    finding = canal_not_traced(Bone.TIBIA, Projection.SAGITTAL, [Fragment.PROXIMAL])
    assert finding.id == "canal-not-traced"
    assert "posterior and anterior inner edges of the tibia are not traced in the proximal" in finding.words


def test_walls_that_share_no_stretch_are_no_canal(make_leg) -> None:
    leg = make_leg()
    first = leg.walls[0]
    leg.walls[0] = (*first[:4], first[4][:1])
    assert tibial_canal(leg) is None


def test_outer_edges_at_a_level(make_leg) -> None:
    made = model(make_leg())
    low, high = outer_edges_mm(made, Bone.TIBIA, Projection.SAGITTAL, [1.0, -200.0, 0.0], DOWN)
    assert (low, high) == pytest.approx((-14, 12), abs=0.02)
    assert outer_edges_mm(made, Bone.TIBIA, Projection.FRONTAL, [0.0, 5.0, 0.0], DOWN) is None
    bare = replace(made, walls=())
    assert outer_edges_mm(bare, Bone.TIBIA, Projection.FRONTAL, [0.0, -200.0, 0.0], DOWN) is None


def test_clearances_name_every_level_and_side(make_leg) -> None:
    canal = tibial_canal(make_leg(), point=(0.0, 0.0, 1.0))
    found = clearances(
        (canal,),
        thick_length_mm=245,
        length_mm=275,
        thick_diameter_mm=12.5,
        thin_diameter_mm=8,
        reamer_mm=14.5,
    )
    assert [c.depth_mm for c in found] == list(range(30, 280, 10))
    isthmus = next(c for c in found if c.depth_mm == 200)
    assert isthmus.medial_or_posterior_gap_mm == pytest.approx(6 + 1 - 6.25, abs=0.02)
    assert isthmus.lateral_or_anterior_gap_mm == pytest.approx(6 - 1 - 6.25, abs=0.02)
    assert isthmus.hits_cortex
    assert not found[0].hits_cortex
    assert isthmus.lateral_or_anterior_cortex_mm == pytest.approx(13 - 1 - 7.25, abs=0.02)
    # The thin part leaves more room.
    thin = next(c for c in found if c.depth_mm == 250)
    assert thin.lateral_or_anterior_gap_mm > isthmus.lateral_or_anterior_gap_mm + 2
    bare = clearances(
        (
            replace(canal, outer=None),
            replace(canal, inner=replace(canal.inner, depth_mm=tuple(d + 500 for d in canal.inner.depth_mm))),
        ),
        thick_length_mm=245,
        length_mm=275,
        thick_diameter_mm=12.5,
        thin_diameter_mm=8,
        reamer_mm=14.5,
    )
    assert len(bare) == len(found)
    assert bare[0].medial_or_posterior_cortex_mm is None
