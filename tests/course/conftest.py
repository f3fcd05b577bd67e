"""An invented nail and treatment, and films drawn by trigonometry, that the tests of the course share.

No code of the package measures anything here.
"""

import math
from datetime import date, timedelta

import pytest

from limbwright.course.alignment import Alignment
from limbwright.course.clinical import Clinical
from limbwright.course.course import Treatment
from limbwright.course.film_marks import FibulaMarks, FollowUpMarks
from limbwright.course.new_bone import CortexReading, NewBone
from limbwright.course.prescription import default_prescription
from limbwright.course.standing import BoneFacts, standing
from limbwright.course.visit import GainedLength, Visit
from limbwright.film.film import Mark, ViewerSide
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.view import Border
from limbwright.practice.profile import Profile
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, directed


@pytest.fixture(scope="session")
def profile() -> Profile:
    return Profile()


@pytest.fixture(scope="session")
def nail() -> Nail:
    return Nail(
        name="invented tibial 10.7",
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        thick_diameter_mm=10.7,
        thin_diameter_mm=8.5,
        length_mm=280.0,
        stroke_mm=60.0,
        exposed_thin_mm=30.0,
        elastic_modulus_gpa=114.0,
        rate_limit_mm_per_day=1.5,
    )


@pytest.fixture(scope="session")
def tibia(profile) -> Treatment:
    """35 mm in an adult tibia: latency 7 days, 1 mm for 4 days, then 0.75 mm a day to day 53."""
    return Treatment(
        operated_on=date(2026, 3, 2),
        prescription=default_prescription(profile, bone=Bone.TIBIA, age_years=30, target_mm=35),
    )


@pytest.fixture(scope="session")
def film():
    """Marks of a film as a function of what it shows."""
    return film_by_hand


PX_PER_MM = 7.0
TOP_MM = 20.0


def film_by_hand(
    *,
    gap_mm=0.0,
    nail_mm=None,
    apex_across_deg=0.0,
    shift_mm=0.0,
    tilt_deg=0.0,
    turned_deg=0.0,
    across_right=True,
    projection=Projection.FRONTAL,
    head_mm=8.0,
    malleolus_mm=25.0,
    px_per_mm=PX_PER_MM,
    name="film",
    fibula=True,
    bone=Bone.TIBIA,
):
    """A tibia of 360 mm over a straight nail of 280 mm (thick part 250, 30 showing), cut at 120 mm.

    `apex_across_deg`: varus (frontal) or procurvatum (sagittal) +; the distal fragment leans the other way.
    """
    given = gap_mm if nail_mm is None else nail_mm
    squeeze = math.cos(math.radians(tilt_deg))
    turn = math.radians(turned_deg)
    sign = 1.0 if across_right else -1.0

    def mark(across, down):
        down = (TOP_MM + down) * squeeze
        x, y = (
            across * math.cos(turn) - down * math.sin(turn),
            across * math.sin(turn) + down * math.cos(turn),
        )
        return Mark(x_px=1500 + sign * x * px_per_mm, y_px=y * px_per_mm)

    lean = math.radians(-apex_across_deg)

    def distal(across, down):
        """A point of the distal fragment, given below its cut edge."""
        return mark(
            shift_mm + across * math.cos(lean) + down * math.sin(lean),
            120 + gap_mm + down * math.cos(lean) - across * math.sin(lean),
        )

    return FollowUpMarks(
        film=name,
        bone=bone,
        projection=projection,
        across_to=ViewerSide.VIEWER_RIGHT if across_right else ViewerSide.VIEWER_LEFT,
        nail_edges=((mark(-5.35, 40), mark(5.35, 40)), (mark(-5.35, 80), mark(5.35, 80))),
        nail_thick_end=mark(0, 5),
        nail_junction=mark(0, 255),
        nail_thin_end=mark(0, 285 + given),
        proximal_edge=(mark(-14, 120), mark(14, 120)),
        distal_edge=(distal(-14, 0), distal(14, 0)),
        proximal_axis=(mark(0, 10), mark(0, 110)),
        distal_axis=(distal(0, 20), distal(0, 220)),
        fibula=FibulaMarks(
            knee_line=mark(30, 0),
            head=mark(40, head_mm),
            plafond=distal(18, 240),
            malleolus=distal(25, 240 + malleolus_mm),
        )
        if fibula
        else None,
    )


@pytest.fixture(scope="session")
def visit():
    """A visit of a tibia on a day after the operation, from plain numbers."""
    return visit_by_hand


def visit_by_hand(
    number, *, mm=None, varus=None, procurvatum=None, ratios=(), bridged=(), bone=Bone.TIBIA, new=None, **more
):
    clinical = more.pop("clinical", None)
    readings = tuple(
        CortexReading(
            cortex=border,
            pixel_value_ratio=ratios[i] if i < len(ratios) else None,
            bridged=bridged[i] if i < len(bridged) else None,
        )
        for i, border in enumerate(Border)
        if i < max(len(ratios), len(bridged))
    )
    return Visit(
        seen_on=date(2026, 3, 2) + timedelta(days=number),
        gained=() if mm is None else (GainedLength(bone=bone, measured_mm=mm),),
        alignment=()
        if varus is None and procurvatum is None
        else (
            Alignment(
                bone=bone,
                frontal=None if varus is None else directed(varus, unit="deg", senses=VARUS_VALGUS),
                sagittal=None
                if procurvatum is None
                else directed(procurvatum, unit="deg", senses=PROCURVATUM_RECURVATUM),
            ),
        ),
        new_bone=(NewBone(bone=bone, cortices=readings, **(new or {})),) if readings or new else (),
        clinical=Clinical(nerves_examined=True, ankle_dorsiflexion_deg=10.0, knee_extension_loss_deg=0.0)
        if clinical is None
        else clinical,
        **more,
    )


@pytest.fixture(scope="session")
def stand(profile, nail):
    """Where a treatment stands on a day, with these visits."""

    def made(treatment, day, *visits, rules=profile, **facts):
        return standing(
            treatment,
            visits,
            on=treatment.operated_on + timedelta(days=day),
            facts=BoneFacts(**({"age_years": 30.0, "nail": nail} | facts)),
            profile=rules,
        )

    return made
