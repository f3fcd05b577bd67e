import cmath
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Contradiction, Missing
from limbwright.finding import Severity
from limbwright.limb.anatomy import Bone, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.patch import assembled
from limbwright.limb.reading import Measure
from limbwright.limb.view import Border, Surface, Wall

PLATEAU = {Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU}


def below_knee(marks):
    return {k for k in marks if k.startswith(("tibia", "ankle")) or k.endswith(("plafond", "plateau"))}


def split(marks, of_points, *, turned=0.3, shift=200 - 50j, shared=PLATEAU, **options):
    """A femur film, and a tibia film turned and shifted; the landmarks `shared` are on both."""
    low = below_knee(marks)
    moved = {k: cmath.exp(1j * turned) * z + shift for k, z in marks.items() if k in low | shared}
    femur = of_points(
        {k: z for k, z in marks.items() if k not in low or k in shared}, patch="upper", **options
    )
    return femur, of_points(moved, patch="lower", **options)


@settings(max_examples=25, deadline=None)
@given(
    mldfa=st.floats(75, 105),
    mpta=st.floats(70, 100),
    jlca=st.floats(-4, 6),
    turned=st.floats(-0.6, 0.6),
    lower_first=st.booleans(),
)
def test_joined_films_measure_what_one_film_would(
    frontal_marks, of_points, *, mldfa, mpta, jlca, turned, lower_first
):
    marks = frontal_marks(mldfa=mldfa, mpta=mpta, jlca=jlca)
    films = split(marks, of_points, turned=turned)
    whole = readings(of_points(marks), age_years=30)
    joined = assembled(films[::-1] if lower_first else films)
    assert joined.findings == ()
    result = readings(joined.view, age_years=30)
    for reading in whole.values:
        assert result.need(reading.measure).value.value == pytest.approx(reading.value.value, abs=1e-6)


def test_joined_films_without_scale_still_give_angles(frontal_marks, of_points):
    marks = frontal_marks(mldfa=95.0)
    upper, lower = split(marks, of_points, scaled=False)
    joined = assembled((upper, lower.rescaled(1.3)))
    result = readings(joined.view, age_years=30)
    assert result.need(Measure.HKA).value.value == pytest.approx(95 - 87 + 1)
    assert result.get(Measure.MAD) is None
    assert joined.placements[0].stretch == pytest.approx(1 / 1.3)


def test_a_landmark_on_both_films_is_kept_from_the_film_of_its_bone(frontal_marks, of_points):
    marks = frontal_marks()
    view = assembled(split(marks, of_points)).view
    assert view.spots[Landmark.MEDIAL_PLATEAU].patch == "lower"
    assert view.spots[Landmark.MEDIAL_FEMORAL_CONDYLE].patch == "upper"
    assert view.in_one_frame(Landmark.FEMORAL_HEAD_CENTRE, Landmark.ANKLE_CENTRE)
    assert view.frame_of(Landmark.ANKLE_CENTRE) == "upper"


def test_three_films_join_in_a_chain(frontal_marks, of_points):
    marks = frontal_marks(mldfa=93.0)
    condyles = {Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE}
    low = below_knee(marks)
    femur = of_points({k: z for k, z in marks.items() if k not in low}, patch="femur")
    knee = of_points({k: 1j * z for k, z in marks.items() if k in condyles | PLATEAU}, patch="knee")
    tibia = of_points({k: marks[k] * cmath.exp(-0.2j) for k in low}, patch="tibia")
    joined = assembled((femur, tibia, knee))
    assert readings(joined.view, age_years=30).need(Measure.HKA).value.value == pytest.approx(7)
    assert [j.patch for j in joined.view.joins] == ["knee", "tibia"]
    # Turning the knee film takes the tibia film with it.
    turned = joined.view.refitted(joined.view.joins[0], rotation_deg=1.0)
    assert readings(turned, age_years=30).need(Measure.HKA).value.value == pytest.approx(6)


def test_films_with_too_little_in_common_stay_apart_and_say_so(frontal_marks, of_points):
    films = split(frontal_marks(), of_points, shared=set())
    result = assembled(films)
    (finding,) = result.findings
    assert finding.id == "films-not-joined"
    assert finding.severity is Severity.NOTE
    assert "Film 'lower' shares fewer than two landmarks" in finding.words
    assert not result.view.in_one_frame(Landmark.FEMORAL_HEAD_CENTRE, Landmark.ANKLE_CENTRE)


def test_shared_landmarks_that_do_not_fit_are_reported(frontal_marks, of_points):
    upper, lower = split(frontal_marks(), of_points, turned=0.0, shift=0)
    lower = lower.moved(Landmark.MEDIAL_PLATEAU, across_mm=-20)
    (finding,) = assembled((upper, lower)).findings
    assert finding.id == "films-joined-badly"
    assert "only to 10.0 mm where marking explains 2.0 mm" in finding.words


def test_walls_and_film_points_go_with_their_film(frontal_marks, of_points):
    upper, lower = split(frontal_marks(), of_points, turned=0.5)
    wall = Wall(
        bone=Bone.TIBIA,
        surface=Surface.INNER,
        border=Border.MEDIAL,
        across_mm=(10.0, 12.0),
        proximal_mm=(300.0, 200.0),
        sd_mm=1.0,
    )
    result = assembled((upper, replace(lower, walls=(wall,))))
    (placement,) = result.placements
    placed = result.view.walls[0]
    assert (placed.across_mm[1], placed.proximal_mm[1]) == pytest.approx(placement.point(12.0, 200.0))
    assert placement.film_point(*placement.point(12.0, 200.0)) == pytest.approx((12.0, 200.0))


def test_no_film_and_films_of_two_legs_are_refused(frontal):
    with pytest.raises(Missing, match=r"no film was given\. Add a film"):
        assembled(())
    with pytest.raises(Contradiction, match="films of different sides or projections"):
        assembled((frontal(), frontal(side=Side.LEFT)))
