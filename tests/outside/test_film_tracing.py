"""Tracing and circle fitting against a real film and a general reference library.

The film: `RG3_UNCR.dcm` of the package pydicom-data (MIT), a computed radiograph of a right lower leg,
MONOCHROME1, without pixel spacing. There is no truth for it, so these are checks of repeatability and
honesty. Its spacing is taken as 0.199 mm: the cassette named in its header is 35 cm wide and the picture
1760 pixels, so this is an inference, not a tag.

The circle: scikit-image (BSD), `measure.CircleModel`, an algebraic least-squares fit, on the same points.
"""

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from limbwright.error import Refused
from limbwright.film.reading import read_picture
from limbwright.film.snap import JointLine, find_joint_line
from limbwright.film.snap.circle import fitted_circle
from limbwright.film.tracing import Plate, isthmus, shaft_line, trace_shaft, width_curve

PX_MM = 0.199
UPPER, LOWER = np.array([860.0, 60.0]), np.array([846.0, 1000.0])
JITTER_MM = 1.6


@pytest.fixture(scope="module")
def plate() -> Plate:
    spec = find_spec("data_store")
    assert spec is not None
    assert spec.origin is not None
    path = Path(spec.origin).parent / "data" / "RG3_UNCR.dcm"
    picture = read_picture(path.read_bytes(), name="lower leg").picture
    assert picture.inverted
    return Plate(grey=picture.values, row_mm=PX_MM, column_mm=PX_MM)


@pytest.fixture(scope="module")
def thirty(plate):
    """Traces of 30 pairs of clicks that vary by 1.6 mm."""
    rng = np.random.Generator(np.random.PCG64(30))
    return [
        trace_shaft(plate, tuple(tuple(at + rng.normal(0.0, JITTER_MM / PX_MM, 2)) for at in (UPPER, LOWER)))
        for _ in range(30)
    ]


def test_both_cortices_are_traced_over_the_whole_length(thirty):
    for trace in thirty:
        assert trace.support > 0.9
        assert min(edge.share_found for edge in trace.outer) > 0.98
        assert min(edge.share_found for edge in trace.inner) > 0.75


def test_the_line_repeats_within_two_hundredths_of_a_degree(thirty):
    directions = [shaft_line(t, from_mm=15.0, to_mm=t.depth_mm[-1] - 15.0).direction_deg for t in thirty]
    assert np.std(directions) < 0.02


def test_the_outer_width_repeats_within_a_tenth_of_a_millimetre(thirty):
    widths = [np.nanmedian(width_curve(t, t.outer).width_mm) for t in thirty]
    assert np.std(widths) < 0.1
    assert np.median(widths) == pytest.approx(22.9, abs=0.5)


def test_the_canals_interval_is_honest_about_the_faded_endosteum(thirty):
    # The medial endosteum, at the viewer's left, fades toward the lesion; the lateral one does not.
    lateral = np.mean([t.inner[1].share_found for t in thirty])
    medial = np.mean([t.inner[0].share_found for t in thirty])
    assert medial < lateral
    assert any(t.not_found(t.inner[0]) for t in thirty)
    found = [isthmus(t) for t in thirty]
    widths = np.array([i.width.value for i in found])
    stated = np.array([i.width.sd for i in found])
    # No single profile decides: what the clicks change is less than what is stated.
    assert widths.std() < np.median(stated)
    assert np.mean(np.abs(widths - widths.mean()) < 1.96 * stated) > 0.9


def test_the_plafond_is_found_on_the_real_ankle_and_repeats(plate):
    rng = np.random.Generator(np.random.PCG64(12))
    found = []
    for _ in range(30):
        ends = np.array([[772.0, 1400.0], [890.0, 1402.0]]) + rng.normal(0.0, JITTER_MM / PX_MM, (2, 2))
        found.append(find_joint_line(plate, *(tuple(end) for end in ends), kind=JointLine.PLAFOND))
    middles = np.array([line.middle_px for line in found]) * PX_MM
    leans = [np.degrees(np.arctan2(*np.subtract(f.second_px, f.first_px)[::-1])) for f in found]
    assert middles.std(axis=0).max() < 0.3
    assert np.std(leans) < 0.5
    # Read by eye: dome of the talus from column 765 to 890, subchondral bone of the tibia at row 1400.
    assert middles.mean(axis=0) == pytest.approx(np.array([827.5, 1400.0]) * PX_MM, abs=1.5)


def test_above_the_real_ankle_there_is_no_plafond(plate):
    with pytest.raises(Refused, match="line of the plafond"):
        find_joint_line(plate, (800.0, 700.0), (900.0, 700.0), kind=JointLine.PLAFOND)


def test_a_circle_agrees_with_the_reference_library():
    from skimage.measure import CircleModel

    rng = np.random.Generator(np.random.PCG64(5))
    turn = rng.uniform(0.3, 4.5, 300)
    points = np.stack([31.0 + 24.0 * np.cos(turn), -12.0 + 24.0 * np.sin(turn)], axis=1)
    points += rng.normal(0.0, 0.1, points.shape)
    ours = fitted_circle(points, start=(30.0, -11.0, 22.0), reach=4.0, least_scatter=0.1)
    model = CircleModel.from_estimate(points)
    assert ours is not None
    (x, y), radius = model.center, model.radius
    # Both are fits of the same points; an algebraic fit is drawn inward by scatter^2/radius, far below this.
    assert (ours.x, ours.y, ours.radius) == pytest.approx((x, y, radius), abs=0.02)
    spread = np.sqrt(np.diag(ours.covariance))
    assert np.abs(np.array([ours.x - 31.0, ours.y + 12.0, ours.radius - 24.0])).max() < 4 * spread.max()


def test_outliers_move_the_reference_fit_but_not_ours():
    from skimage.measure import CircleModel

    rng = np.random.Generator(np.random.PCG64(6))
    turn = rng.uniform(0.0, 6.28, 300)
    points = np.stack([24.0 * np.cos(turn), 24.0 * np.sin(turn)], axis=1) + rng.normal(0.0, 0.1, (300, 2))
    points[:45] += np.array([3.0, 1.0])
    ours = fitted_circle(points, start=(0.5, 0.5, 23.0), reach=4.0, least_scatter=0.1)
    assert ours is not None
    assert np.hypot(ours.x, ours.y) < 0.1
    assert np.hypot(*CircleModel.from_estimate(points).center) > 0.2
