"""What must hold among the marks of one film."""

from contextlib import nullcontext
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import Contradiction, OutOfRange
from limbwright.film.consistency import (
    ANTERIOR_THEN_POSTERIOR,
    DOWN_THE_FEMUR,
    DOWN_THE_TIBIA,
    MEDIAL_THEN_LATERAL,
    require_consistent_marks,
    require_wall_on_film,
)
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import FRONTAL_ONLY, SAGITTAL_ONLY, Landmark
from limbwright.limb.view import Border

WIDTH_PX, HEIGHT_PX = 3000, 8000


def check(right=None, left=None, projection=Projection.FRONTAL, right_at_left=True, anterior_at_left=True):
    require_consistent_marks(
        {Side.RIGHT: right or {}, Side.LEFT: left or {}},
        projection=projection,
        width_px=WIDTH_PX,
        height_px=HEIGHT_PX,
        right_side_at_left=right_at_left,
        anterior_at_left=anterior_at_left,
    )


def wall(x_px=(100.0, 110.0), y_px=(1000.0, 2000.0), border=Border.MEDIAL, projection=Projection.FRONTAL):
    require_wall_on_film(
        x_px,
        y_px,
        border=border,
        projection=projection,
        width_px=WIDTH_PX,
        height_px=HEIGHT_PX,
        where="walls[3]",
    )


@pytest.mark.parametrize("chain", [DOWN_THE_FEMUR, DOWN_THE_TIBIA])
def test_a_chain_from_top_to_bottom_passes_and_each_exchange_is_refused(chain):
    points = {name: (900.0, 500.0 + 400 * level) for level, name in enumerate(chain)}
    check(right=points)
    for upper, lower in pairwise(chain):
        exchanged = points | {upper: points[lower], lower: points[upper]}
        with pytest.raises(
            Contradiction, match=r"does not lie below .*; y runs down the film.*hip is at the"
        ):
            check(right=exchanged)


def test_a_film_hanging_upside_down_is_refused():
    with pytest.raises(Contradiction, match=r"right\.ankle_centre\.y_px: ankle centre .*turn the film"):
        check(right={Landmark.FEMORAL_HEAD_CENTRE: (900, 7000), Landmark.ANKLE_CENTRE: (900, 300)})


@pytest.mark.parametrize("pair", MEDIAL_THEN_LATERAL)
@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("right_at_left", [True, False])
def test_medial_lies_toward_the_other_leg(pair, side, right_at_left):
    medial, lateral = pair
    # The leg stands at the viewer's left, its other leg to the right of it, or the reverse.
    at_left = (side is Side.RIGHT) == right_at_left
    points = {
        medial: (1000.0 if at_left else 2000.0, 4000.0),
        lateral: (900.0 if at_left else 2100.0, 4000.0),
    }
    check(**{side.value: points}, right_at_left=right_at_left)
    with pytest.raises(Contradiction, match=rf"of the {side} leg are exchanged, or right_side_at is wrong"):
        check(**{side.value: points}, right_at_left=not right_at_left)
    with pytest.raises(Contradiction, match=r"are exchanged"):
        check(**{side.value: {medial: points[lateral], lateral: points[medial]}}, right_at_left=right_at_left)


@pytest.mark.parametrize("pair", ANTERIOR_THEN_POSTERIOR)
def test_anterior_lies_where_the_film_says(pair):
    points = {pair[0]: (800.0, 4000.0), pair[1]: (1000.0, 4000.0)}
    check(left=points, projection=Projection.SAGITTAL)
    with pytest.raises(Contradiction, match=r"of the left leg are exchanged, or anterior_at is wrong"):
        check(left=points, projection=Projection.SAGITTAL, anterior_at_left=False)


def test_right_and_left_leg_stand_where_the_film_says():
    right, left = ({Landmark.ANKLE_CENTRE: (x, 7000.0)} for x in (800.0, 2200.0))
    check(right=right, left=left)
    check(right=left, left=right, right_at_left=False)
    check(right=left, left=right, projection=Projection.SAGITTAL)
    with pytest.raises(Contradiction, match=r"right\.ankle_centre\.x_px.*Exchange the legs"):
        check(right=left, left=right)


@pytest.mark.parametrize(
    ("landmark", "projection"),
    [(name, Projection.SAGITTAL) for name in sorted(FRONTAL_ONLY)]
    + [(name, Projection.FRONTAL) for name in sorted(SAGITTAL_ONLY)],
)
def test_landmarks_of_the_other_projection_are_refused(landmark, projection):
    with pytest.raises(OutOfRange, match=rf"left\.{landmark}: .* is not marked on {projection} films"):
        check(left={landmark: (100.0, 100.0)}, projection=projection)


@given(x=st.floats(-1e4, 1e4), y=st.floats(-1e4, 1e4))
def test_a_landmark_is_accepted_exactly_where_the_image_is(x, y):
    inside = -0.5 <= x <= WIDTH_PX - 0.5 and -0.5 <= y <= HEIGHT_PX - 0.5
    axis = "y_px" if -0.5 <= x <= WIDTH_PX - 0.5 else "x_px"
    refused = pytest.raises(OutOfRange, match=rf"^right\.ankle_centre\.{axis}: ankle centre lies at")
    with nullcontext() if inside else refused:
        check(right={Landmark.ANKLE_CENTRE: (x, y)})


def test_a_sound_wall_passes():
    wall()
    wall(border=Border.ANTERIOR, projection=Projection.SAGITTAL)


@pytest.mark.parametrize(
    ("changes", "error", "message"),
    [
        ({"x_px": (100.0, 9000.0)}, OutOfRange, r"walls\[3\]\.x_px\[1\]: point 1 of the wall lies at 9000"),
        ({"y_px": (100.0, 9000.0)}, OutOfRange, r"walls\[3\]\.y_px\[1\]: point 1"),
        ({"y_px": (2000.0, 1000.0)}, Contradiction, r"walls\[3\]\.y_px: .*must run down the film"),
        ({"border": Border.POSTERIOR}, Contradiction, r"posterior wall on a frontal film, expected medial"),
    ],
)
def test_impossible_walls_are_refused(changes, error, message):
    with pytest.raises(error, match=message):
        wall(**changes)
