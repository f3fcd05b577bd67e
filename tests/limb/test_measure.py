import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Missing, OutOfRange
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.formula import FORMULAS
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure
from limbwright.quantity import Measured, Sense

ANGLE = 1e-6
LENGTH = 1e-6


def values(result):
    return {reading.measure: reading.value.value for reading in result.values}


@settings(max_examples=60, deadline=None)
@given(
    mldfa=st.floats(70, 110),
    mpta=st.floats(65, 105),
    jlca=st.floats(-8, 8),
    ldta=st.floats(75, 105),
    mlpfa=st.floats(70, 110),
    ama=st.floats(2, 12),
    neck_shaft=st.floats(100, 150),
    lean=st.floats(-6, 6),
)
def test_a_leg_built_from_angles_measures_these_angles(
    frontal, *, mldfa, mpta, jlca, ldta, mlpfa, ama, neck_shaft, lean
):
    view = frontal(
        mldfa=mldfa,
        mpta=mpta,
        jlca=jlca,
        ldta=ldta,
        mlpfa=mlpfa,
        ama=ama,
        neck_shaft=neck_shaft,
        femur_lean=lean,
    )
    result = readings(view, age_years=30)
    found = values(result)
    assert not result.not_measured
    assert found[Measure.MLDFA] == pytest.approx(mldfa, abs=ANGLE)
    assert found[Measure.MPTA] == pytest.approx(mpta, abs=ANGLE)
    assert found[Measure.JLCA] == pytest.approx(jlca, abs=ANGLE)
    assert found[Measure.LDTA] == pytest.approx(ldta, abs=ANGLE)
    assert found[Measure.MLPFA] == pytest.approx(mlpfa, abs=ANGLE)
    assert found[Measure.AMA] == pytest.approx(ama, abs=ANGLE)
    assert found[Measure.NSA] == pytest.approx(neck_shaft, abs=ANGLE)
    assert found[Measure.ALDFA] == pytest.approx(mldfa - ama, abs=ANGLE)
    # Seen from the hip: mLPFA and aMPFA are supplements but for the angle between the two axes.
    assert found[Measure.AMPFA] == pytest.approx(180 - mlpfa - ama, abs=ANGLE)
    assert found[Measure.HKA] == pytest.approx(mldfa - mpta + jlca, abs=ANGLE)
    assert found[Measure.AFTA] == pytest.approx(mldfa - mpta + jlca - ama, abs=ANGLE)
    deviation = math.radians(mldfa - mpta + jlca)
    leg = math.sqrt(430**2 + 360**2 + 2 * 430 * 360 * math.cos(deviation))
    assert found[Measure.MAD] == pytest.approx(430 * 360 * math.sin(deviation) / leg, abs=LENGTH)
    assert found[Measure.LEG_LENGTH] == pytest.approx(leg, abs=LENGTH)
    assert found[Measure.FEMUR_LENGTH] == pytest.approx(430, abs=LENGTH)
    assert found[Measure.TIBIA_LENGTH] == pytest.approx(360, abs=LENGTH)
    assert found[Measure.KNEE_HEIGHT] == pytest.approx(
        360 * math.cos(math.radians(lean) - deviation), abs=LENGTH
    )


@settings(max_examples=40, deadline=None)
@given(pdfa=st.floats(60, 110), ppta=st.floats(60, 110), adta=st.floats(60, 100))
def test_a_sagittal_leg_built_from_angles_measures_these_angles(sagittal, pdfa, ppta, adta):
    found = values(readings(sagittal(pdfa=pdfa, ppta=ppta, adta=adta), age_years=30))
    assert found == {
        Measure.PDFA: pytest.approx(pdfa, abs=ANGLE),
        Measure.PPTA: pytest.approx(ppta, abs=ANGLE),
        Measure.ADTA: pytest.approx(adta, abs=ANGLE),
    }


def test_the_same_geometry_reads_the_same_on_either_leg(frontal):
    right = readings(frontal(mldfa=95.0), age_years=30)
    left = readings(frontal(mldfa=95.0, side=Side.LEFT), age_years=30)
    assert right == left


def test_varus_and_its_deviation_from_the_norm_leave_as_words(frontal):
    result = readings(frontal(mldfa=95.0, mpta=80.0, jlca=4.0), age_years=30)
    assert result.need(Measure.HKA).shown().direction is Sense.VARUS
    assert result.need(Measure.MAD).shown().direction is Sense.MEDIAL
    assert result.need(Measure.MLDFA).shown().direction is Sense.NONE
    mldfa, mpta = result.need(Measure.MLDFA), result.need(Measure.MPTA)
    assert mldfa.out_of_range == pytest.approx(5)
    assert mldfa.deviation().direction is Sense.VARUS
    assert mpta.out_of_range == pytest.approx(-5)
    assert mpta.deviation().direction is Sense.VARUS
    assert mpta.deviation().magnitude == pytest.approx(5)
    assert result.need(Measure.JLCA).shown().direction is Sense.LATERAL
    assert result.need(Measure.FEMUR_LENGTH).deviation() is None
    assert result.need(Measure.LDTA).out_of_range == 0


@pytest.mark.parametrize(
    ("angles", "measure", "word"),
    [
        ({"ldta": 95.0}, Measure.LDTA, Sense.VARUS),
        ({"mlpfa": 100.0}, Measure.MLPFA, Sense.VARUS),
        ({"neck_shaft": 110.0}, Measure.NSA, Sense.VARUS),
        ({"mlpfa": 80.0}, Measure.AMPFA, Sense.VALGUS),
        ({"mldfa": 80.0}, Measure.ALDFA, Sense.VALGUS),
        ({"mpta": 94.0}, Measure.MPTA, Sense.VALGUS),
        ({"jlca": 5.0}, Measure.JLCA, Sense.VARUS),
    ],
)
def test_deviations_in_the_frontal_plane_name_the_deformity(frontal, angles, measure, word):
    assert readings(frontal(**angles), age_years=30).need(measure).deviation().direction is word


@pytest.mark.parametrize(
    ("angles", "measure", "word"),
    [
        ({"pdfa": 70.0}, Measure.PDFA, Sense.PROCURVATUM),
        ({"ppta": 95.0}, Measure.PPTA, Sense.RECURVATUM),
        ({"adta": 90.0}, Measure.ADTA, Sense.PROCURVATUM),
    ],
)
def test_deviations_in_the_sagittal_plane_name_the_deformity(sagittal, angles, measure, word):
    assert readings(sagittal(**angles), age_years=30).need(measure).deviation().direction is word


def test_adult_ranges_are_not_used_for_a_small_child(frontal):
    child = readings(frontal(mldfa=95.0), age_years=5.5).need(Measure.MLDFA)
    assert child.norm is None
    assert child.out_of_range is None
    assert "not used below 7 years (patient 5.5 years" in child.norm_absent
    assert child.deviation() is None
    assert readings(frontal(mldfa=95.0), age_years=7.0).need(Measure.MLDFA).out_of_range == pytest.approx(5)


def test_an_impossible_age_is_refused(frontal):
    with pytest.raises(OutOfRange, match=r"age is -1 years, expected 0 to 120 years"):
        readings(frontal(), age_years=-1)


def test_without_scale_lengths_are_refused_and_angles_stay(frontal):
    result = readings(frontal(scaled=False, mldfa=95.0), age_years=30)
    assert result.need(Measure.MLDFA).value.value == pytest.approx(95)
    assert {n.measure for n in result.not_measured} == {
        Measure.MAD,
        Measure.FEMUR_LENGTH,
        Measure.TIBIA_LENGTH,
        Measure.LEG_LENGTH,
        Measure.KNEE_HEIGHT,
    }
    with pytest.raises(Missing, match="MAD was not measured: the frontal film has no scale"):
        result.need(Measure.MAD)


def test_a_missing_landmark_is_named(frontal_marks, of_points):
    marks = frontal_marks()
    del marks[Landmark.LATERAL_PLAFOND]
    result = readings(of_points(marks), age_years=30)
    (absent,) = result.not_measured
    assert absent.measure is Measure.LDTA
    assert absent.missing == (Landmark.LATERAL_PLAFOND,)
    assert absent.reason == "'lateral plafond' is not marked on the frontal film."


def test_a_sagittal_measure_is_not_asked_of_a_frontal_view(frontal):
    with pytest.raises(Missing, match="PDFA was not measured: it belongs to the other projection"):
        readings(frontal(), age_years=30).need(Measure.PDFA)


@pytest.mark.parametrize("knee", [Landmark.FEMUR_KNEE_CENTRE, Landmark.TIBIA_KNEE_CENTRE])
def test_one_knee_centre_is_enough_for_alignment(frontal_marks, of_points, knee):
    marks = frontal_marks(mldfa=95.0)
    whole = values(readings(of_points(marks), age_years=30))
    del marks[knee]
    part = values(readings(of_points(marks), age_years=30))
    assert part[Measure.HKA] == pytest.approx(whole[Measure.HKA])
    assert part[Measure.MAD] == pytest.approx(whole[Measure.MAD])


def test_a_knee_out_of_joint_gives_mad_at_the_middle_of_both_centres(frontal_marks, of_points):
    marks = frontal_marks(mldfa=87.0, jlca=0.0, femur_lean=0.0)
    assert values(readings(of_points(marks), age_years=30))[Measure.MAD] == pytest.approx(0, abs=1e-9)
    marks[Landmark.FEMUR_KNEE_CENTRE] += 6
    assert values(readings(of_points(marks), age_years=30))[Measure.MAD] == pytest.approx(3)


def test_two_landmarks_on_one_spot_are_a_reason_not_a_crash(frontal_marks, of_points):
    marks = frontal_marks()
    marks[Landmark.LATERAL_PLAFOND] = marks[Landmark.MEDIAL_PLAFOND]
    (absent,) = readings(of_points(marks), age_years=30).not_measured
    assert absent.measure is Measure.LDTA
    assert "same spot" in absent.reason


def two_films(marks, of_points):
    """Femur film and tibia film that share no landmark; the tibia film is shifted and turned."""
    turned = complex(math.cos(0.2), math.sin(0.2))
    tibia = {
        k: turned * z + 300
        for k, z in marks.items()
        if k.startswith(("tibia", "ankle")) or k.endswith(("plateau", "plafond"))
    }
    femur = of_points({k: z for k, z in marks.items() if k not in tibia}, patch="femur film")
    return femur, of_points(tibia, patch="tibia film")


def test_films_that_share_nothing_give_bone_angles_and_refuse_what_crosses_the_knee(frontal_marks, of_points):
    femur, tibia = two_films(frontal_marks(mldfa=95.0, mpta=80.0), of_points)
    result = readings(replace(femur, spots={**femur.spots, **tibia.spots}), age_years=30)
    found = values(result)
    assert found[Measure.MLDFA] == pytest.approx(95)
    assert found[Measure.MPTA] == pytest.approx(80)
    assert {n.measure for n in result.not_measured} == {
        Measure.MAD,
        Measure.HKA,
        Measure.AFTA,
        Measure.JLCA,
        Measure.LEG_LENGTH,
    }
    reason = next(n for n in result.not_measured if n.measure is Measure.HKA)
    assert reason.reason == "its landmarks lie on films that share no frame (femur film, tibia film)."
    assert "Mark two of the condyles" in reason.next_step


def test_a_separate_joint_line_angle_lets_hka_and_mad_be_assembled(frontal_marks, of_points):
    marks = frontal_marks(mldfa=95.0, mpta=80.0, jlca=2.0)
    whole = values(readings(of_points(marks), age_years=30))
    femur, tibia = two_films(marks, of_points)
    result = readings(
        replace(femur, spots={**femur.spots, **tibia.spots}),
        age_years=30,
        jlca=Measured(value=2.0, sd=1.0, unit="deg"),
    )
    hka = result.need(Measure.HKA)
    assert hka.value.value == pytest.approx(17)
    assert hka.formula.startswith("assembled across two films")
    mldfa, mpta = result.need(Measure.MLDFA).value.sd, result.need(Measure.MPTA).value.sd
    assert hka.value.sd == pytest.approx(math.hypot(mldfa, mpta, 1.0))
    assert result.need(Measure.MAD).value.value == pytest.approx(whole[Measure.MAD])
    assert result.need(Measure.LEG_LENGTH).value.value == pytest.approx(whole[Measure.LEG_LENGTH])
    # About 3.5 mm of MAD per degree in an adult leg.
    assert result.need(Measure.MAD).value.sd == pytest.approx(3.4 * hka.value.sd, rel=0.1)
    assert [n.measure for n in result.not_measured] == [Measure.AFTA, Measure.JLCA]


def test_every_frontal_and_sagittal_measure_belongs_to_one_projection():
    assert {f.measure for f in FORMULAS} == set(Measure)
    for measure in Measure:
        assert len({f.projection for f in FORMULAS if f.measure is measure}) == 1
    sagittal = {f.measure for f in FORMULAS if f.projection is Projection.SAGITTAL}
    assert sagittal == {Measure.PDFA, Measure.PPTA, Measure.ADTA}
