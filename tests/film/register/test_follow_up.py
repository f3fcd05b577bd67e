"""A drawn fragment that is turned and shifted by known amounts is found again."""

import numpy as np
import pytest
from drawn_films import developed
from scipy.ndimage import affine_transform, gaussian_filter

from limbwright.error import Refused
from limbwright.film.film import ViewerSide
from limbwright.film.register import Patch, fragment_motion, lay_patch
from limbwright.film.tracing import Plate, shaft_line, trace_shaft

PX_MM = 0.3
ROWS, COLUMNS = 620, 320


def bone(seed):
    """Attenuation of a fragment with an uneven outline and texture of its own."""
    rng = np.random.Generator(np.random.PCG64(seed))
    y = np.arange(ROWS) * PX_MM
    x = np.arange(COLUMNS) * PX_MM - COLUMNS * PX_MM / 2
    half = 13.0 + 4.0 * np.exp(-(((y - 10) / 22.0) ** 2)) + 2.5 * np.exp(-(((y - 178) / 18.0) ** 2))
    chord = 2 * np.sqrt(np.clip(half[:, None] ** 2 - x[None, :] ** 2, 0, None))
    inner = 2 * np.sqrt(np.clip((0.45 * half[:, None]) ** 2 - x[None, :] ** 2, 0, None))
    texture = gaussian_filter(rng.standard_normal((ROWS, COLUMNS)), 5.0)
    return (1.0 + 0.25 * texture / texture.std() * 0.2) * 0.05 * (chord - inner)


def moved(image, turn_deg, shift_px, pivot):
    """Turn from x toward y about a pivot (row, column), then shift (rows, columns)."""
    turn = np.radians(turn_deg)
    back = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    offset = np.array(pivot) - back @ (np.array(pivot) + np.array(shift_px))
    return affine_transform(image, back, offset=offset, order=3, mode="nearest")


def films(*, turn_deg=0.0, shift_px=(0.0, 0.0), whole_turn_deg=0.0, nail=False, seed=3):
    """Two films: on the later one the lower half is moved against the upper one, and then the whole leg."""
    upper, lower = bone(seed), bone(seed)
    upper[300:] = 0.0
    lower[:310] = 0.0
    pivot = (310.0, COLUMNS / 2)
    rod = np.zeros((ROWS, COLUMNS))
    if nail:
        x = np.arange(COLUMNS) * PX_MM - COLUMNS * PX_MM / 2
        rod[:] = 0.5 * 2 * np.sqrt(np.clip(4.5**2 - x**2, 0, None))
    before = upper + lower + rod
    after = moved(
        upper + moved(lower, turn_deg, shift_px, pivot) + rod, whole_turn_deg, (4.0, -3.0), (310.0, 160.0)
    )
    return tuple(
        Plate(
            grey=developed(np.clip(a, 0, None) + 1.0, photons=8000.0, seed=n), row_mm=PX_MM, column_mm=PX_MM
        )
        for n, a in enumerate((before, after))
    )


PROXIMAL = Patch(centre_px=(160.0, 150.0), along_px=(160.0, 280.0), length_mm=85.0, width_mm=60.0)
DISTAL = Patch(centre_px=(160.0, 460.0), along_px=(160.0, 600.0), length_mm=85.0, width_mm=60.0)


@pytest.mark.parametrize("turn", [-3.0, 0.0, 2.0])
@pytest.mark.parametrize("whole", [0.0, 2.0])
def test_turn_gap_and_shift_come_back(turn, whole):
    earlier, later = films(turn_deg=turn, shift_px=(20.0, 6.0), whole_turn_deg=whole)
    found = fragment_motion(
        earlier,
        later,
        proximal=PROXIMAL,
        distal=DISTAL,
        proximal_guess_px=(162.0, 160.0),
        distal_guess_px=(158.0, 492.0),
        cut_px=(160.0, 310.0),
    )
    # A turn from x toward y moves the lower end to the viewer's left.
    assert found.toward_viewer_right.value == pytest.approx(-turn, abs=0.1)
    assert found.gained.value == pytest.approx(20.0 * PX_MM, abs=0.15)
    assert found.shifted_right.value == pytest.approx(6.0 * PX_MM, abs=0.15)
    assert found.proximal_turn_deg == pytest.approx(whole, abs=0.1)
    assert found.agreement > 0.7
    varus = found.angulation(varus_or_procurvatum_is=ViewerSide.VIEWER_LEFT)
    assert varus.value == pytest.approx(turn, abs=0.1)
    assert varus.sd == found.toward_viewer_right.sd


def test_a_rod_that_stays_does_not_hold_the_fragment_back():
    earlier, later = films(turn_deg=2.5, shift_px=(18.0, 0.0), nail=True)
    found = fragment_motion(
        earlier,
        later,
        proximal=PROXIMAL,
        distal=DISTAL,
        proximal_guess_px=(160.0, 150.0),
        distal_guess_px=(160.0, 480.0),
        cut_px=(160.0, 310.0),
    )
    assert found.toward_viewer_right.value == pytest.approx(-2.5, abs=0.25)
    assert found.gained.value == pytest.approx(18.0 * PX_MM, abs=0.5)


def test_lines_of_the_fragments_sharpen_the_turn():
    earlier, later = films(turn_deg=2.0)

    def lines(plate):
        return tuple(
            shaft_line(trace_shaft(plate, ((160.0, float(a)), (155.0, float(b)))))
            for a, b in ((90, 280), (340, 540))
        )

    how = {
        "proximal": PROXIMAL,
        "distal": DISTAL,
        "proximal_guess_px": (158.0, 154.0),
        "distal_guess_px": (155.0, 464.0),
        "cut_px": (160.0, 310.0),
    }
    plain = fragment_motion(earlier, later, **how)
    sharp = fragment_motion(earlier, later, **how, earlier_lines=lines(earlier), later_lines=lines(later))
    assert sharp.toward_viewer_right.sd < plain.toward_viewer_right.sd
    assert sharp.toward_viewer_right.value == pytest.approx(-2.0, abs=0.2)


def test_another_bone_is_refused():
    earlier, _ = films()
    rng = np.random.Generator(np.random.PCG64(9))
    noise = gaussian_filter(rng.standard_normal((ROWS, COLUMNS)), 3.0)
    other = Plate(grey=developed(2.0 + noise), row_mm=PX_MM, column_mm=PX_MM)
    with pytest.raises(Refused, match="the two films agree over the fragment"):
        lay_patch(earlier, other, PROXIMAL, (160.0, 150.0))


def test_the_uncertainty_grows_with_noise():
    quiet, later = films(turn_deg=1.0)
    loud = Plate(
        grey=(later.grey + np.random.Generator(np.random.PCG64(4)).normal(0, 400, later.grey.shape)).clip(0),
        row_mm=PX_MM,
        column_mm=PX_MM,
    )
    first = lay_patch(quiet, later, PROXIMAL, (160.0, 150.0))
    second = lay_patch(quiet, loud, PROXIMAL, (160.0, 150.0))
    assert np.trace(second.covariance) > np.trace(first.covariance)
