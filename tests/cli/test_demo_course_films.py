"""Follow-up films of an invented course, read back: what was set comes out, and the advice with it."""

from dataclasses import replace

import pytest

from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.followed import followed_case
from limbwright.cli.demo_course_films import filmed_course
from limbwright.cli.demo_courses import OPERATED_ON, TIGHT
from limbwright.course.advice.said import Pace
from limbwright.film.film import Provenance
from limbwright.film.reading import read_facts
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.practice.profile import Profile

SHORT = replace(TIGHT, visits=TIGHT.visits[1:4])


@pytest.fixture(scope="module")
def filmed():
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    return filmed_course(SHORT, Profile(), nail)


def test_length_and_angles_come_back(filmed):
    first, *visits = filmed.case.course.visits
    assert first.gained == ()
    assert first.alignment == ()
    for visit, set_to in zip(visits, SHORT.visits, strict=True):
        gained, alignment = visit.gained_of(Bone.TIBIA), visit.alignment_of(Bone.TIBIA)
        assert gained.measured_mm == pytest.approx(set_to.gained_mm, abs=0.8)
        assert alignment.varus_deg == pytest.approx(set_to.varus_deg, abs=0.8)
        assert alignment.procurvatum_deg == pytest.approx(set_to.procurvatum_deg, abs=0.8)
        ratios = {c.cortex: c.pixel_value_ratio for c in visit.new_bone_of(Bone.TIBIA).cortices}
        assert len(ratios) == 4
        assert sorted(ratios.values())[1] == pytest.approx(sorted(set_to.ratios)[1], abs=0.05)
        angles = {a.measure: a.deg for a in visit.joint_angles}
        # the phantom's tibia: MPTA 87, LDTA 89
        assert angles[Measure.MPTA] == pytest.approx(87.0, abs=1.5)
        assert angles[Measure.LDTA] == pytest.approx(89.0, abs=1.5)
        assert abs(visit.fibula.malleolus_proximal_mm) < 3.0


def test_every_mark_says_how_it_was_placed_and_nearly_all_of_the_nail_was_snapped(filmed):
    marks = [m for visit in filmed.case.course.visits for m in visit.marks]
    assert len(marks) == 8
    assert all(m.nail_thick_end.provenance is Provenance.SNAPPED for m in marks)
    assert all(m.nail_thin_end.provenance is Provenance.SNAPPED for m in marks)


def test_the_advice_changes_when_it_should(filmed):
    said = []
    for visit in filmed.case.course.visits:
        (bone,) = followed_case(filmed.case, Profile(), on=visit.seen_on).bones
        said.append(((visit.seen_on - OPERATED_ON).days, bone.advice.pace))
    assert said == [(1, Pace.KEEP), (28, Pace.KEEP), (42, Pace.SLOW), (56, Pace.HOLD)]


def test_films_are_dicom_and_the_case_is_written_and_read_without_loss(filmed):
    assert [f.film.name for f in filmed.films][:2] == ["day 1 frontal", "day 1 sagittal"]
    for taken in filmed.films:
        assert read_facts(taken.content, name=taken.film.name).facts.patient_id == "INVENTED-C"
    again = case_from_json(case_to_json(filmed.case), complete=False, where="course")
    assert again == filmed.case
