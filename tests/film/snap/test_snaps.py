"""Balls, heads, joint lines, tips, nails and ticks drawn from formulas, found from rough clicks."""

import numpy as np
import pytest
from drawn_films import CORTEX, SOFT, STEEL, Tube, ball, chord, developed, head, joint
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import LimbwrightError, OutOfRange, Refused
from limbwright.film.film import Provenance
from limbwright.film.reading import Development
from limbwright.film.snap import (
    JointLine,
    find_ball,
    find_head,
    find_joint_line,
    find_nail,
    find_ticks,
    find_tip,
)
from limbwright.film.snap.nail import rod_shift_mm
from limbwright.film.tracing import Plate


def plate(attenuation, *, px_mm=0.2, **how):
    return Plate(grey=developed(attenuation, **how), row_mm=px_mm, column_mm=px_mm)


def off(at, mm, turn, px_mm):
    return at[0] + mm / px_mm * np.cos(turn), at[1] + mm / px_mm * np.sin(turn)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.0, 6.3), st.floats(0.8, 1.0))
def test_a_ball_is_found_from_4_mm_off(turn, power):
    film = plate(ball(), px_mm=0.143, power=power, photons=20000.0)
    found = find_ball(film, off((180.3, 176.8), 4.0, turn, 0.143), diameter_mm=25.0)
    assert (found.x_px, found.y_px) == pytest.approx((180.3, 176.8), abs=0.15)
    assert found.radius_px == pytest.approx(12.9 / 0.143, rel=0.006)
    assert abs(found.radius_px - 12.9 / 0.143) < 2.5 * found.radius_sd_px
    assert found.support > 0.95


@pytest.mark.parametrize("power", [0.6, 0.8, 1.3])
def test_a_film_that_states_its_curve_gives_the_scale_to_a_tenth_of_a_percent(power):
    film = plate(ball(), px_mm=0.143, power=power, photons=20000.0)
    curve = Development(low=0.0, high=6.0, power=power, white=16383.0)
    known = find_ball(film, (184.0, 170.0), diameter_mm=25.0, development=curve)
    assert known.radius_px == pytest.approx(12.9 / 0.143, rel=0.0012)
    unknown = find_ball(film, (184.0, 170.0), diameter_mm=25.0)
    assert known.radius_sd_px < 0.5 * unknown.radius_sd_px


def test_a_film_in_light_needs_no_curve():
    grey = np.rint(16383.0 * (1.0 - np.exp(-6.0 * developed(ball(), photons=20000.0) / 16383.0)))
    film = Plate(grey=grey.astype(np.uint16), row_mm=0.143, column_mm=0.143)
    light = Development(white=16383.0, in_light=True)
    found = find_ball(film, (184.0, 170.0), diameter_mm=25.0, development=light)
    assert found.radius_px == pytest.approx(12.9 / 0.143, rel=0.0012)


def test_a_film_linear_in_attenuation_is_surer_of_its_ball():
    film = plate(ball(), px_mm=0.143, power=1.0, photons=20000.0)
    linear = Development(high=16383.0, white=16383.0, absolute=False)
    found = find_ball(film, (184.0, 170.0), diameter_mm=25.0, development=linear)
    plain = find_ball(film, (184.0, 170.0), diameter_mm=25.0)
    assert found.radius_sd_px < plain.radius_sd_px
    assert abs(found.radius_px - 12.9 / 0.143) < 2.5 * found.radius_sd_px


def test_the_ball_tells_the_blur_of_the_film():
    blurs = [
        find_ball(
            plate(ball(), px_mm=0.143, blur_px=blur, photons=50000.0), (180.0, 177.0), diameter_mm=25.0
        ).blur_mm
        for blur in (0.6, 1.0)
    ]
    assert blurs[0] == pytest.approx(0.6 * 0.143, rel=0.45)
    assert blurs[1] == pytest.approx(1.0 * 0.143, rel=0.45)
    assert blurs[0] < blurs[1]


def test_bone_over_half_the_ball_and_a_border_through_it_do_not_move_it():
    attenuation = ball()
    attenuation[:, 150:230] += CORTEX * 22.0
    whole = plate(attenuation, px_mm=0.143)
    found = find_ball(whole, (184.0, 170.0), diameter_mm=25.0)
    assert (found.x_px, found.y_px) == pytest.approx((180.3, 176.8), abs=0.4)
    clipped = Plate(grey=whole.grey[:, 120:], row_mm=0.143, column_mm=0.143)
    found = find_ball(clipped, (64.0, 170.0), diameter_mm=25.0)
    assert (found.x_px, found.y_px) == pytest.approx((60.3, 176.8), abs=0.5)
    assert found.support < 0.9


def test_a_ball_becomes_evidence_of_scale():
    found = find_ball(plate(ball(), px_mm=0.143), (180.0, 177.0), diameter_mm=25.0)
    evidence = found.as_evidence(diameter_mm=25.0)
    assert evidence.centre.provenance is Provenance.SNAPPED
    assert evidence.radius_px == found.radius_px
    assert evidence.radius_sd_px == found.radius_sd_px


def test_no_ball_no_guess():
    flat = Plate(grey=np.full((300, 300), 900, np.uint16), row_mm=0.143, column_mm=0.143)
    with pytest.raises(Refused, match="of the outline of a ball"):
        find_ball(flat, (150.0, 150.0), diameter_mm=25.0)
    with pytest.raises(OutOfRange, match="expected 5 to 100 mm"):
        find_ball(flat, (150.0, 150.0), diameter_mm=2.0)
    with pytest.raises(OutOfRange, match="a click at 900, 150 px"):
        find_ball(flat, (900.0, 150.0), diameter_mm=25.0)


@settings(max_examples=10, deadline=None)
@given(st.floats(0.0, 6.3), st.floats(19.0, 27.0))
def test_a_head_is_found_from_4_mm_off(turn, radius):
    film = plate(head(radius_mm=radius), photons=5000.0)
    found = find_head(film, off((226.4, 235.1), 4.0, turn, 0.2))
    assert (found.x_px, found.y_px) == pytest.approx((226.4, 235.1), abs=1.5)
    assert found.radius_mm == pytest.approx(radius, abs=0.5)
    mark = found.mark(column_mm=0.2)
    assert mark.provenance is Provenance.SNAPPED
    assert mark.sd_px == pytest.approx(found.centre_sd_mm / 0.2)


def test_where_nothing_is_round_there_is_no_head():
    rng = np.random.Generator(np.random.PCG64(3))
    noise = plate(2.0 + 0.05 * rng.standard_normal((460, 460)))
    with pytest.raises(Refused, match="the roundest outline there has a support"):
        find_head(noise, (230.0, 230.0))


@pytest.mark.parametrize("tilt", [-6.0, 0.0, 5.0])
def test_condyles_are_touched_by_their_tangent(tilt):
    film = plate(joint(tilt_deg=tilt), photons=20000.0)
    turn = np.radians(tilt)

    def at(u, v):
        x, y = u * np.cos(turn) - v * np.sin(turn), u * np.sin(turn) + v * np.cos(turn)
        return 300 + x / 0.2, 150 + y / 0.2

    found = find_joint_line(
        film, off(at(-23.0, -2.0), 3.5, 1.0, 0.2), off(at(23.0, -2.0), 3.5, 4.0, 0.2), kind=JointLine.CONDYLES
    )
    assert found.first_px == pytest.approx(at(-23.0, -2.0), abs=1.0)
    assert found.second_px == pytest.approx(at(23.0, -2.0), abs=1.0)
    across = np.subtract(found.second_px, found.first_px)
    assert np.degrees(np.arctan2(across[1], across[0])) == pytest.approx(tilt, abs=0.2)
    first, second = found.marks(column_mm=0.2)
    assert first.provenance is second.provenance is Provenance.SNAPPED


def test_a_plateau_line_does_not_depend_on_which_end_is_clicked_first():
    film = plate(joint(tilt_deg=3.0), photons=20000.0)
    ends = ((187.0, 166.0), (414.0, 177.0))
    one = find_joint_line(film, *ends, kind=JointLine.PLATEAU)
    other = find_joint_line(film, *ends[::-1], kind=JointLine.PLATEAU)
    assert one.first_px == pytest.approx(other.second_px, abs=0.01)
    assert one.second_px == pytest.approx(other.first_px, abs=0.01)
    across = np.subtract(one.second_px, one.first_px)
    assert np.degrees(np.arctan2(across[1], across[0])) == pytest.approx(3.0, abs=0.3)
    assert one.middle_px[0] == pytest.approx(300.0, abs=6.0)


def test_a_joint_line_without_an_edge_or_without_length_is_refused():
    rng = np.random.Generator(np.random.PCG64(5))
    noise = plate(1.5 + 0.02 * rng.standard_normal((300, 600)))
    with pytest.raises(LimbwrightError, match="line of the plateau"):
        find_joint_line(
            Plate(grey=np.full((300, 600), 700, np.uint16), row_mm=0.2, column_mm=0.2),
            (187.0, 166.0),
            (414.0, 177.0),
            kind=JointLine.PLATEAU,
        )
    with pytest.raises(Refused, match="less than 10 mm apart"):
        find_joint_line(noise, (187.0, 166.0), (200.0, 166.0), kind=JointLine.PLAFOND)


def prominence():
    row, column = np.mgrid[0:400, 0:400].astype(float)
    x, y = (column - 205.0) * 0.2, (row - 180.0) * 0.2
    # A rounded tip 12 mm wide whose top lies at row 180.
    inside = (x / 12.0) ** 2 + ((y - 20.0) / 20.0) ** 2
    body = np.where(y > 20.0, (np.abs(x) < 12.0) * 1.0, np.clip(1.0 - inside, 0, None))
    return 1.5 + CORTEX * 20.0 * np.sqrt(body)


def test_a_tip_is_found_up_and_down():
    attenuation = prominence()
    up = find_tip(plate(attenuation, photons=20000.0), (216.0, 190.0), points_up=True)
    assert (up.x_px, up.y_px) == pytest.approx((205.0, 180.0), abs=2.5)
    down = find_tip(plate(attenuation[::-1], photons=20000.0), (216.0, 209.0), points_up=False)
    assert (down.x_px, 399 - down.y_px) == pytest.approx((up.x_px, up.y_px), abs=1.0)
    assert up.mark(column_mm=0.2).provenance is Provenance.SNAPPED
    assert up.along_sd_mm > up.across_sd_mm


def test_a_straight_edge_or_nothing_has_no_tip():
    row = np.mgrid[0:400, 0:400][0].astype(float)
    with pytest.raises(Refused, match="no rounded edge"):
        find_tip(plate(1.5 + 0.8 * (row > 190)), (200.0, 188.0), points_up=True)
    flat = Plate(grey=np.full((400, 400), 900, np.uint16), row_mm=0.2, column_mm=0.2)
    with pytest.raises(Refused, match="no rounded edge"):
        find_tip(flat, (200.0, 200.0), points_up=True)


@pytest.mark.parametrize("width", [8.0, 10.7])
def test_a_nail_has_its_width_and_direction(width):
    tube = Tube(lean_deg=5.0, nail_mm=width, inner_mm=7.0)
    film = Plate(grey=tube.film(), row_mm=0.2, column_mm=0.2)
    found = find_nail(film, tube.click(0.1, 1.0), tube.click(0.9, -1.0), blur_mm=0.12)
    assert found.width_px * 0.2 == pytest.approx(width, abs=0.15)
    assert abs(found.width_px * 0.2 - width) < 3 * found.width_sd_px * 0.2
    assert found.direction_deg == pytest.approx(5.0, abs=0.1)
    evidence = found.as_evidence(diameter_mm=width)
    assert (evidence.diameter_px, evidence.diameter_sd_px) == (found.width_px, found.width_sd_px)


def test_bone_without_metal_is_no_nail():
    tube = Tube(columns=300)
    film = Plate(grey=tube.film(), row_mm=0.2, column_mm=0.2)
    with pytest.raises(Refused, match="no two parallel edges of metal"):
        find_nail(film, tube.click(0.1), tube.click(0.9))


def test_a_rod_of_weak_metal_would_shift_like_bone_and_a_sharp_film_hardly_at_all():
    # Less than if both blurs simply added up.
    assert rod_shift_mm(5.0, blur_mm=0.1, filter_mm=0.15) < 0.765 * (0.1 + 0.15)
    assert rod_shift_mm(5.0, blur_mm=0.02, filter_mm=0.03) < rod_shift_mm(5.0, blur_mm=0.2, filter_mm=0.15)


def ruler(*, first=40, apart=52.3, count=12, missing=()):
    row, column = np.mgrid[0:700, 0:200].astype(float)
    total = np.full(row.shape, 0.3)
    for number in range(count):
        if number not in missing:
            total += STEEL * 0.3 * chord((row - first - number * apart) * 0.2, 0.4) * (abs(column - 100) < 20)
    return total


@pytest.mark.parametrize("missing", [(), (3, 7)])
def test_ticks_give_a_length(missing):
    film = plate(ruler(missing=missing), photons=20000.0)
    found = find_ticks(film, (100.0, 32.0), (102.0, 628.0))
    assert found.intervals == 11
    length = np.hypot(*np.subtract(found.last_px, found.first_px))
    assert length == pytest.approx(11 * 52.3, abs=0.4)
    assert found.support == pytest.approx((12 - len(missing)) / 12)
    evidence = found.as_evidence()
    assert evidence.length_mm == 110.0
    assert evidence.start.provenance is Provenance.SNAPPED


@pytest.mark.parametrize("lean_mm", [-3.5, 3.5])
def test_clicks_off_the_rulers_line_do_not_shorten_it(lean_mm):
    film = plate(ruler(count=7), photons=20000.0)
    found = find_ticks(film, (100.0 - lean_mm / 0.2, 38.0), (100.0 + lean_mm / 0.2, 357.0))
    length = np.hypot(*np.subtract(found.last_px, found.first_px))
    # The clicked line is 0.6 % longer than the ruler.
    assert length == pytest.approx(found.intervals * 52.3, rel=0.001)
    across = found.last_px[0] - found.first_px[0]
    assert abs(across) < 0.02 * length


def test_a_film_without_ticks_is_refused():
    with pytest.raises(Refused, match="evenly spaced ticks"):
        find_ticks(plate(ruler(count=2), photons=20000.0), (100.0, 32.0), (100.0, 628.0))
    with pytest.raises(Refused, match="evenly spaced ticks"):
        find_ticks(plate(ruler(apart=20.0, count=25)), (100.0, 32.0), (100.0, 628.0), interval_mm=10.0)


def test_soft_tissue_alone_is_darker_than_bone():
    # The drawn films keep the order of materials that everything here rests on.
    assert SOFT < CORTEX < STEEL
