import numpy as np
import pytest

from limbwright.mechanics import Plane
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.picture import contact_panels
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def panels(planned, days):  # type: ignore[no-untyped-def]
    found = planned(
        level=100.0,
        widen_mm=8.0,
        profile=Profile(canal_gap_for_blocking_screw_mm=0.5, blocking_screw_worth_deg=0.1),
    )
    assert found.plan.blocking_screws
    made = bone_forecast(found.plan, found.canals, days(40.0), Profile(), sampling=Sampling(count=0))
    return found.plan, contact_panels(made)


def test_both_planes_are_shown_at_first_half_and_full_length(panels) -> None:
    _plan, found = panels
    assert [p.plane for p in found] == [Plane.FRONTAL] * 3 + [Plane.SAGITTAL] * 3
    assert [p.lengthening_mm for p in found[:3]] == sorted(p.lengthening_mm for p in found[:3])
    assert found[2].lengthening_mm == 40


def test_walls_part_by_the_length_gained_and_the_nail_stays_between_them(panels) -> None:
    plan, found = panels
    for panel in found[:3]:
        entry, moving = panel.walls[0], panel.walls[2]
        assert moving[0][1] - entry[-1][1] == pytest.approx(panel.lengthening_mm, abs=1e-6)
        outline = np.array(panel.nail)
        right = outline[: len(outline) // 2]
        # The outline's half width is the thick or the thin radius.
        assert outline[:, 1].max() == pytest.approx(plan.nail.length_mm + panel.lengthening_mm, abs=5)
        high = np.interp(right[:, 1], *np.array(panel.walls[1]).T[::-1])
        beside = (right[:, 1] > panel.walls[1][0][1]) & (right[:, 1] < panel.walls[1][-1][1])
        assert (right[beside, 0] <= high[beside] + 0.05).all()


def test_contacts_stand_on_the_surface_they_press(panels) -> None:
    _plan, found = panels
    for panel in found:
        assert panel.contacts
        assert sum(c.force_n for c in panel.contacts) == pytest.approx(0.0, abs=4.0)
        outline = np.array(panel.nail)
        half = len(outline) // 2
        centre = (outline[:half, 0] + outline[half:, 0][::-1]) / 2
        for contact in panel.contacts:
            middle = np.interp(contact.depth_mm, outline[:half, 1], centre)
            # A force toward lateral comes from the medial side.
            assert np.sign(contact.across_mm - middle) == -np.sign(contact.force_n)


def test_blocking_screws_are_drawn_in_their_plane(panels) -> None:
    plan, found = panels
    drawn = len(found[0].screws) + len(found[3].screws)
    assert drawn == len(plan.blocking_screws)
