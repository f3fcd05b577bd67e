"""Random cases, as far as they can exist."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import strategies as st

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.course.course import Course, Treatment
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.course.visit import GainedLength, Visit
from limbwright.film.consistency import DOWN_THE_FEMUR, DOWN_THE_TIBIA
from limbwright.film.film import (
    CalibrationBall,
    CalibrationType,
    Film,
    FilmWall,
    HeaderScale,
    KnownNail,
    Mark,
    Provenance,
    Ruler,
    ScaleEvidence,
    TypedMagnification,
    ViewerSide,
)
from limbwright.finding import Finding, Number, Severity
from limbwright.growth.growth import Sex
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark, shown_in
from limbwright.limb.reading import Measure
from limbwright.limb.view import Border, Surface
from limbwright.plan.circumstances import (
    BoneQuality,
    Examination,
    HardwareKind,
    JointState,
    StandingHardware,
    Zone,
    ZoneQuality,
)
from limbwright.plan.decision import (
    BlockingScrew,
    BonePlan,
    FibularFixation,
    FragmentPath,
    MiddleHold,
    NailPath,
    Osteotomy,
    Pin,
    PinRole,
    Place,
    Plan,
    ScrewDirection,
    SecondOsteotomy,
)
from limbwright.plan.goal import Approach, BoneChoice, Goal, Staging
from limbwright.published import Source, Status
from limbwright.quantity import Directed, Sense

BORN = date(1990, 5, 17)
WIDTH_PX, HEIGHT_PX = 4000, 10000
LONG_BONES = [Bone.FEMUR, Bone.TIBIA]
texts = st.text(
    st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=30
).filter(lambda text: text.strip() == text and text.isprintable())
FILM_NAMES = ("standing frontal", "Fuß, seitlich", "膝 2", "after 14 days")
days = st.dates(date(2000, 1, 1), date(2040, 1, 1))
positive = st.floats(0.01, 100)


def optional(strategy):
    return st.none() | strategy


def number(low, high):
    return st.floats(low, high, allow_subnormal=False)


@st.composite
def marks(draw, side, projection, right_side_at, anterior_at):
    """Landmarks of one leg where they can be: hip at the top, sides as the film says."""
    right_of_picture = (side is Side.RIGHT) != (right_side_at is ViewerSide.VIEWER_LEFT)
    middle = 3000 if right_of_picture else 1000
    # Away from the midline, or toward the front, in the direction of x.
    outward = (
        (1 if right_of_picture else -1)
        if projection is Projection.FRONTAL
        else (1 if anterior_at is ViewerSide.VIEWER_RIGHT else -1)
    )
    chain = (*DOWN_THE_FEMUR, *DOWN_THE_TIBIA)
    chosen = draw(st.sets(st.sampled_from([name for name in Landmark if shown_in(name, projection)])))
    placed = {}
    for name in sorted(chosen):
        level = chain.index(name) if name in chain else 8
        aside = {"lateral": 200, "medial": -200, "anterior": 200, "posterior": -200}
        shift = next((px for word, px in aside.items() if word in name), 0) * outward
        placed[name] = Mark(
            x_px=middle + shift + draw(number(-90, 90)),
            y_px=100 + 600 * level + draw(number(-90, 90)),
            sd_px=draw(optional(positive)),
            provenance=draw(st.sampled_from(Provenance)),
        )
    return placed


@st.composite
def walls(draw, projection):
    borders = (
        [Border.MEDIAL, Border.LATERAL]
        if projection is Projection.FRONTAL
        else [Border.ANTERIOR, Border.POSTERIOR]
    )
    y_px = draw(st.lists(number(0, HEIGHT_PX - 1), min_size=2, max_size=5, unique=True))
    return FilmWall(
        side=draw(st.sampled_from(Side)),
        bone=draw(st.sampled_from(Bone)),
        surface=draw(st.sampled_from(Surface)),
        border=draw(st.sampled_from(borders)),
        x_px=tuple(draw(number(0, WIDTH_PX - 1)) for _ in y_px),
        y_px=tuple(sorted(y_px)),
        sd_px=draw(positive),
    )


plain_marks = st.builds(Mark, x_px=number(0, 1000), y_px=number(0, 1000))
spacings = optional(st.tuples(positive, positive))
evidence = st.builds(
    ScaleEvidence,
    ball=optional(
        st.builds(CalibrationBall, diameter_mm=number(5, 100), centre=plain_marks, radius_px=positive)
    ),
    ruler=optional(
        st.builds(
            Ruler,
            start=plain_marks,
            end=st.builds(Mark, x_px=number(2000, 3000), y_px=number(0, 10)),
            length_mm=number(5, 2000),
        )
    ),
    nail=optional(st.builds(KnownNail, diameter_mm=number(3, 20), diameter_px=positive)),
    header=st.builds(
        HeaderScale,
        pixel_spacing_mm=spacings,
        imager_pixel_spacing_mm=spacings,
        calibration_type=st.sampled_from(CalibrationType),
        magnification=optional(positive),
        source_to_detector_mm=optional(positive),
        source_to_patient_mm=optional(positive),
    ),
    typed=optional(st.builds(TypedMagnification, magnification=number(1, 3))),
)


@st.composite
def films(draw, name):
    projection = draw(st.sampled_from(Projection))
    right_side_at = draw(st.sampled_from(ViewerSide))
    anterior_at = draw(st.sampled_from(ViewerSide)) if projection is Projection.SAGITTAL else None
    return Film(
        name=name,
        file=draw(optional(st.just(f"images/{name}.dcm"))),
        sha256=draw(optional(st.text("0123456789abcdef", min_size=64, max_size=64))),
        projection=projection,
        taken_on=draw(optional(days)),
        width_px=WIDTH_PX,
        height_px=HEIGHT_PX,
        standing=draw(st.booleans()),
        right_side_at=right_side_at,
        anterior_at=anterior_at,
        scale=draw(evidence),
        right=draw(marks(Side.RIGHT, projection, right_side_at, anterior_at)),
        left=draw(marks(Side.LEFT, projection, right_side_at, anterior_at)),
        walls=tuple(draw(st.lists(walls(projection), max_size=2))),
    )


@st.composite
def patients(draw):
    born = draw(st.booleans())
    return Patient(
        id=draw(texts),
        sex=draw(st.sampled_from(Sex)),
        birth_date=BORN if born else None,
        age_years=None if born else draw(number(0, 120)),
        skeletal_age_years=draw(optional(number(0, 20))),
    )


rotations = optional(
    st.builds(
        Directed,
        magnitude=number(0, 120),
        direction=st.sampled_from([Sense.EXTERNAL, Sense.INTERNAL]),
        unit=st.just("deg"),
    )
)
joints = st.sampled_from(JointState)
examinations = st.builds(
    Examination,
    femur_rotation=rotations,
    tibia_rotation=rotations,
    knee_flexion_deg=optional(number(0, 170)),
    knee_extension_loss_deg=optional(number(0, 90)),
    ankle_dorsiflexion_deg=optional(number(-60, 40)),
    ankle_dorsiflexion_knee_bent_deg=optional(number(-60, 40)),
    block_test_mm=optional(number(-200, 200)),
    foot_height_difference_mm=optional(number(-50, 50)),
    hip=joints,
    knee=joints,
    ankle=joints,
    previous_infection=st.lists(st.sampled_from(Bone), max_size=2).map(tuple),
    previous_surgery=st.text(st.characters(codec="utf-8"), max_size=30),
    bone_quality=st.builds(
        ZoneQuality,
        bone=st.sampled_from(Bone),
        zone=st.sampled_from(Zone),
        quality=st.sampled_from(BoneQuality),
    ).map(lambda one: (one,)),
    hardware=st.builds(
        StandingHardware,
        kind=st.sampled_from(HardwareKind),
        bone=st.sampled_from(LONG_BONES),
        from_mm=number(0, 200),
        to_mm=number(201, 500),
        in_canal=st.booleans(),
        planned=st.booleans(),
        note=st.text(st.characters(codec="utf-8"), max_size=20),
    ).map(lambda one: (one,)),
)
ANGLES = [Measure.MPTA, Measure.MLDFA, Measure.LDTA, Measure.PPTA]


@st.composite
def goals(draw):
    bones = draw(st.lists(st.sampled_from(LONG_BONES), unique=True))
    return Goal(
        leave_short_mm=draw(number(-20, 50)),
        bones=tuple(
            BoneChoice(
                bone=bone,
                lengthening_mm=draw(optional(number(0, 150))),
                direction=draw(optional(st.sampled_from(Direction))),
                approach=draw(optional(st.sampled_from(Approach))),
                nail=draw(optional(texts)),
                calf_release=draw(optional(st.booleans())),
                osteotomies=(cuts := draw(optional(st.integers(1, 2)))),
                second_osteotomy_below_joint_mm=None if cuts == 1 else draw(optional(mm)),
            )
            for bone in bones
        ),
        staging=draw(optional(st.sampled_from(Staging))),
        targets_deg=draw(st.dictionaries(st.sampled_from(ANGLES), number(60, 120))),
        correct_alignment=draw(st.booleans()),
    )


@st.composite
def courses(draw, film_names):
    operated_on = draw(days)
    bones = draw(st.lists(st.sampled_from(LONG_BONES), min_size=1, unique=True))
    phase = Phase(
        kind=PhaseKind.STEADY,
        step_mm=draw(number(0.01, 1)),
        steps_per_day=draw(st.integers(1, 8)),
        name=draw(st.just("") | texts),
    )
    hold = Phase(kind=PhaseKind.HOLD, days=draw(st.integers(1, 30)))
    return Course(
        treatments=tuple(
            Treatment(
                operated_on=operated_on,
                prescription=Prescription(
                    bone=bone,
                    latency_days=draw(st.integers(0, 14)),
                    phases=(hold, phase),
                    target_mm=draw(number(1, 80)),
                    film_interval_days=14,
                ),
            )
            for bone in bones
        ),
        visits=tuple(
            Visit(
                seen_on=operated_on + timedelta(days=14 * (index + 1)),
                gained=(GainedLength(bone=bones[0], measured_mm=draw(optional(number(-5, 80)))),),
                films=film_names[:1],
                note=draw(st.text(st.characters(codec="utf-8"), max_size=20)),
            )
            for index in range(draw(st.integers(0, 3)))
        ),
    )


mm = number(0, 300)
places = st.builds(Place, anterior_mm=mm, proximal_mm=mm, lateral_mm=mm)
NAIL = Nail(
    name="invented 305",
    bone=Bone.TIBIA,
    direction=Direction.ANTEGRADE,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8.5,
    length_mm=305.0,
    stroke_mm=50.0,
    exposed_thin_mm=30.0,
    holes=(
        Hole(
            end=NailEnd.THICK, distance_mm=20.0, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=4.5
        ),
    ),
    elastic_modulus_gpa=114.0,
)
findings = st.builds(
    Finding,
    id=st.just("nail-short"),
    severity=st.sampled_from(Severity),
    words=texts,
    next_step=texts,
    numbers=st.builds(Number, name=texts, value=number(-1e6, 1e6), unit=st.just("mm")).map(lambda n: (n,)),
    source=st.builds(Source, text=texts, status=st.sampled_from(Status)),
)
fragment_paths = {
    fragment: st.builds(FragmentPath, fragment=st.just(fragment), upper=places, lower=places)
    for fragment in Fragment
}
osteotomies = st.builds(
    Osteotomy,
    bone=st.just(Bone.TIBIA),
    depth_mm=mm,
    below_joint_mm=mm,
    above_distal_joint_mm=mm,
    off_apex_mm=optional(number(-50, 50)),
)
bone_plans = st.builds(
    BonePlan,
    bone=st.just(Bone.TIBIA),
    direction=st.just(Direction.ANTEGRADE),
    approach=st.sampled_from(Approach),
    lengthening_mm=number(0, 80),
    osteotomy=osteotomies,
    path=st.builds(
        NailPath,
        entry=places,
        proximal=fragment_paths[Fragment.PROXIMAL],
        distal=fragment_paths[Fragment.DISTAL],
        middle=fragment_paths[Fragment.MIDDLE],
    ),
    second=optional(
        st.builds(
            SecondOsteotomy,
            osteotomy=osteotomies,
            rotation_correction_deg=number(-40, 40),
            hold=st.sampled_from(MiddleHold),
        )
    ),
    rotation_correction_deg=number(-40, 40),
    nail=st.just(NAIL),
    reamer_mm=number(8, 16),
    blocking_screws=st.builds(
        BlockingScrew,
        fragment=st.sampled_from(Fragment),
        side=st.sampled_from(Border),
        direction=st.sampled_from(ScrewDirection),
        depth_mm=mm,
        from_osteotomy_mm=mm,
        offset_mm=number(1, 20),
        diameter_mm=number(3, 6),
        drill_mm=number(2, 5),
    ).map(lambda screw: (screw,)),
    fibula=optional(
        st.builds(
            FibularFixation,
            osteotomy_above_ankle_mm=mm,
            proximal_screw_below_plateau_mm=mm,
            distal_screw_above_plafond_mm=mm,
            screw_diameter_mm=number(3, 6),
            cortices=st.integers(2, 4),
        )
    ),
    pins=st.builds(
        Pin,
        role=st.sampled_from(PinRole),
        bone=st.just(Bone.TIBIA),
        fragment=st.sampled_from(Fragment),
        below_joint_mm=mm,
        nail_side=texts,
        clearance_mm=number(0, 20),
        diameter_mm=number(3, 6),
    ).map(lambda pin: (pin,)),
    calf_release=optional(st.booleans()),
)


def _with_fitting_path(bone: BonePlan) -> BonePlan:
    """A line in the middle fragment only where there is one."""
    return bone if bone.second is not None else replace(bone, path=replace(bone.path, middle=None))


def plans(side):
    return st.builds(
        Plan,
        side=st.just(side),
        bones=bone_plans.map(lambda bone: (_with_fitting_path(bone),)),
        staging=optional(st.sampled_from(Staging)),
        steps=st.lists(texts, max_size=3).map(tuple),
        findings=st.lists(findings, max_size=2).map(tuple),
    )


@st.composite
def cases(draw):
    names = draw(st.lists(st.sampled_from(FILM_NAMES), max_size=3, unique=True))
    side = draw(st.sampled_from(Side))
    return Case(
        id=draw(texts),
        invented=draw(st.booleans()),
        side=side,
        diagnosis=draw(st.text(st.characters(codec="utf-8"), max_size=100)),
        patient=draw(patients()),
        films=tuple(draw(films(name)) for name in names),
        examination=draw(examinations),
        goal=draw(optional(goals())),
        plan=draw(optional(plans(side))),
        course=draw(optional(courses(tuple(names)))),
    )


@pytest.fixture(scope="session")
def random_cases():
    """Strategy of random cases that hold together."""
    return cases()
