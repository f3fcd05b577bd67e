"""What must hold between the values of a case. What concerns one value alone is checked where it is defined.

Every function returns problems with their JSON path and raises nothing: a reader sees them all at once.
"""

from collections.abc import Iterable, Iterator
from datetime import date

from limbwright.case.patient import Patient
from limbwright.case.problem import Problem
from limbwright.course.course import Course
from limbwright.film.film import Film
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark, plain_words
from limbwright.limb.reading import Measure
from limbwright.plan.decision import Plan
from limbwright.plan.goal import Goal

LARGEST_LENGTHENING_MM = 150.0
NOT_ANGLES = frozenset(
    {Measure.MAD, Measure.FEMUR_LENGTH, Measure.TIBIA_LENGTH, Measure.LEG_LENGTH, Measure.KNEE_HEIGHT}
)
ENDS_OF_A_BONE = (
    (Landmark.FEMORAL_HEAD_CENTRE, Landmark.FEMUR_KNEE_CENTRE),
    (Landmark.TIBIA_KNEE_CENTRE, Landmark.ANKLE_CENTRE),
)
"""Without both ends of at least one bone on a frontal film nothing can be measured."""


def problems_between(
    *,
    patient: Patient,
    side: Side,
    films: tuple[Film, ...],
    goal: Goal | None,
    plan: Plan | None,
    course: Course | None,
) -> tuple[Problem, ...]:
    """Everything that contradicts itself across the parts of a case, in the order of the file."""
    found = [*_film_problems(films, patient.birth_date)]
    if goal is not None:
        found += _goal_problems(goal)
    if plan is not None:
        found += _plan_problems(plan, side)
    if course is not None:
        found += _course_problems(course, films, patient.birth_date)
    return tuple(found)


def missing_landmarks(films: tuple[Film, ...], side: Side) -> tuple[Problem, ...]:
    """What has to be marked before anything can be measured on the treated leg; empty when enough is there.

    One bone with both its ends on frontal films is enough; further measurements name what they need.
    """
    frontal = [(index, film) for index, film in enumerate(films) if film.projection is Projection.FRONTAL]
    if not frontal:
        return (
            _problem(
                "$.films",
                f"no frontal film among {len(films)}.",
                "Add the long standing frontal film.",
            ),
        )
    marked = {landmark for _, film in frontal for landmark in film.marks(side)}
    if any(all(end in marked for end in bone) for bone in ENDS_OF_A_BONE):
        return ()
    # The first frontal film that carries any landmark of this leg is where a reader would go on marking.
    index = next((i for i, film in frontal if film.marks(side)), frontal[0][0])
    return tuple(
        _problem(
            f"$.films[{index}].{side}.{landmark}",
            f"landmark '{plain_words(landmark)}' of the {side} leg is not marked; nothing can be measured "
            "without both ends of the femur or of the tibia.",
            "Mark it on a frontal film.",
        )
        for bone in ENDS_OF_A_BONE
        for landmark in bone
        if landmark not in marked
    )


def _problem(path: str, found: str, next_step: str, value: object = None) -> Problem:
    return Problem(path=path, value="" if value is None else str(value), found=found, next_step=next_step)


def _film_problems(films: tuple[Film, ...], birth_date: date | None) -> Iterator[Problem]:
    first_index: dict[str, int] = {}
    for index, film in enumerate(films):
        if film.name in first_index:
            yield _problem(
                f"$.films[{index}].name",
                f"films {first_index[film.name]} and {index} have the same name.",
                "Give every film of a case its own name.",
                film.name,
            )
        first_index.setdefault(film.name, index)
        if film.taken_on is not None and birth_date is not None and film.taken_on < birth_date:
            yield _problem(
                f"$.films[{index}].taken_on",
                f"the film was taken before the patient was born on {birth_date}.",
                "Correct the date of the film or the birth date.",
                film.taken_on,
            )


def _bone_problems(bones: Iterable[Bone], path: str) -> Iterator[Problem]:
    seen: set[Bone] = set()
    for index, bone in enumerate(bones):
        if bone is Bone.FIBULA:
            yield _problem(
                f"{path}[{index}].bone",
                "only femur and tibia are lengthened.",
                "Give the tibia; the fibula goes with it.",
                bone,
            )
        if bone in seen:
            yield _problem(
                f"{path}[{index}].bone", f"the {bone} is listed twice.", "Keep one entry for each bone.", bone
            )
        seen.add(bone)


def _goal_problems(goal: Goal) -> Iterator[Problem]:
    if not -200 <= goal.leave_short_mm <= 200:
        yield _problem(
            "$.goal.leave_short_mm",
            "expected -200 to 200 mm.",
            "Give the discrepancy wanted at the end in millimetres.",
            goal.leave_short_mm,
        )
    yield from _bone_problems((choice.bone for choice in goal.bones), "$.goal.bones")
    for measure, target_deg in goal.targets_deg.items():
        if measure in NOT_ANGLES:
            yield _problem(
                f"$.goal.targets_deg.{measure}",
                f"{measure} is a length, not an angle.",
                "Give joint-orientation angles here; length is set by leave_short_mm and the bones.",
                target_deg,
            )
        elif not -45 <= target_deg <= 180:
            yield _problem(
                f"$.goal.targets_deg.{measure}", "expected -45 to 180 deg.", "Give degrees.", target_deg
            )


def _plan_problems(plan: Plan, side: Side) -> Iterator[Problem]:
    if plan.side is not side:
        yield _problem(
            "$.plan.side",
            f"the plan is for the {plan.side} leg and the case for the {side}.",
            "Plan the treated leg, or correct the side.",
            plan.side,
        )
    yield from _bone_problems((bone.bone for bone in plan.bones), "$.plan.bones")
    for index, bone in enumerate(plan.bones):
        if (bone.second is None) is not (bone.path.middle is None):
            yield _problem(
                f"$.plan.bones[{index}].second",
                "a second osteotomy and the nail's line in the middle fragment go together; one is missing.",
                "Give both, or neither, or plan the case again.",
            )
        cuts = zip(("osteotomy", "second.osteotomy"), bone.osteotomies(), strict=False)
        for field, value_mm, low, high in (
            ("lengthening_mm", bone.lengthening_mm, 0.0, LARGEST_LENGTHENING_MM),
            ("reamer_mm", bone.reamer_mm, 5.0, 25.0),
            *(
                (f"{name}.{field}", value_mm, 0.0, 700.0)
                for name, cut in cuts
                for field, value_mm in (
                    ("below_joint_mm", cut.below_joint_mm),
                    ("above_distal_joint_mm", cut.above_distal_joint_mm),
                )
            ),
        ):
            if not low <= value_mm <= high:
                yield _problem(
                    f"$.plan.bones[{index}].{field}",
                    f"expected {low:g} to {high:g} mm.",
                    "Correct it in millimetres, or plan the case again.",
                    value_mm,
                )


def _course_problems(course: Course, films: tuple[Film, ...], birth_date: date | None) -> Iterator[Problem]:
    for index, treatment in enumerate(course.treatments):
        if birth_date is not None and treatment.operated_on < birth_date:
            yield _problem(
                f"$.course.treatments[{index}].operated_on",
                f"the operation lies before the birth date {birth_date}.",
                "Correct the date of the operation or the birth date.",
                treatment.operated_on,
            )
    treated = {treatment.prescription.bone for treatment in course.treatments}
    names = {film.name for film in films}
    for index, visit in enumerate(course.visits):
        named = (
            *((f"gained[{i}]", gain.bone) for i, gain in enumerate(visit.gained)),
            *((f"alignment[{i}]", alignment.bone) for i, alignment in enumerate(visit.alignment)),
            *((f"new_bone[{i}]", new.bone) for i, new in enumerate(visit.new_bone)),
            *((f"marks[{i}]", marks.bone) for i, marks in enumerate(visit.marks)),
        )
        for part, bone in named:
            if bone not in treated:
                yield _problem(
                    f"$.course.visits[{index}].{part}.bone",
                    f"the {bone} is not lengthened in this course.",
                    "Correct the bone, or add its treatment.",
                    bone,
                )
        for position, marks in enumerate(visit.marks):
            if marks.film not in names:
                yield _problem(
                    f"$.course.visits[{index}].marks[{position}].film",
                    "no film of this case has that name.",
                    "Correct the name, or add the film.",
                    marks.film,
                )
        for position, name in enumerate(visit.films):
            if name not in names:
                yield _problem(
                    f"$.course.visits[{index}].films[{position}]",
                    "no film of this case has that name.",
                    "Correct the name, or add the film.",
                    name,
                )
