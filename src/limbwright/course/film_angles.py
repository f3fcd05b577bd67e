"""Joint-orientation angles of a lengthened bone on a follow-up film.

Angles are taken as textbooks define them: between a joint line and the bone's axis on the side the name says
(Paley, Principles of Deformity Correction, 2002; definitions from memory). Frontal film of a tibia: the
mechanical axis, from the middle of the knee line to the middle of the plafond. Femur: distal fragment's axis
(aLDFA), and with the head the mechanical axis (mLDFA). Sagittal films: axis of the fragment at that joint.
"""

import math
from collections.abc import Iterator

from limbwright.course.film_geometry import Heading, Spot, distance_px, heading, middle, spot
from limbwright.course.film_marks import FollowUpMarks, Pair
from limbwright.course.film_scale import NailScale
from limbwright.course.joint_angle import JointAngle
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.practice.profile import Profile


def joint_angles(marks: FollowUpMarks, scale: NailScale, profile: Profile) -> tuple[JointAngle, ...]:
    """Every joint-orientation angle whose marks are there.

    Parameters
    ----------
    marks : FollowUpMarks
        Marks of one film.
    scale : NailScale
        Scale of that film.
    profile : Profile
        Reading errors: `joint_line_landmark_sd_mm` at both ends of a line, at least `angle_reading_sd_deg`.
    """
    tibia = marks.bone is Bone.TIBIA
    found = _frontal(marks) if marks.projection is Projection.FRONTAL else _sagittal(marks)
    angles = []
    for measure, line, degrees in found:
        a, b = spot(marks, line[0]), spot(marks, line[1])
        length_mm = distance_px(a, b) * scale.across_mm
        own = math.degrees(math.sqrt(2) * profile.joint_line_landmark_sd_mm / length_mm)
        angles.append(
            JointAngle(
                bone=Bone.TIBIA if tibia else Bone.FEMUR,
                measure=measure,
                deg=round(degrees, 2),
                sd_deg=round(max(own, profile.angle_reading_sd_deg), 2),
            )
        )
    return tuple(angles)


def _frontal(marks: FollowUpMarks) -> Iterator[tuple[Measure, Pair, float]]:
    knee, ankle = marks.knee_line, marks.ankle_line
    if marks.bone is Bone.TIBIA:
        if knee is None or ankle is None:
            return
        axis = heading(middle(marks, knee), middle(marks, ankle))
        yield Measure.MPTA, knee, _between(axis, _line_way(marks, knee, outward=False))
        yield Measure.LDTA, ankle, _between(_back(axis), _line_way(marks, ankle, outward=True))
        return
    if knee is None:
        return
    lateral = _line_way(marks, knee, outward=True)
    if marks.femoral_head is not None:
        to_head = heading(middle(marks, knee), spot(marks, marks.femoral_head))
        yield Measure.MLDFA, knee, _between(to_head, lateral)
    if marks.distal_axis is not None:
        yield Measure.ALDFA, knee, _between(_back(_way(marks, marks.distal_axis)), lateral)


def _sagittal(marks: FollowUpMarks) -> Iterator[tuple[Measure, Pair, float]]:
    knee, ankle = marks.knee_line, marks.ankle_line
    if marks.bone is Bone.FEMUR:
        if knee is not None and marks.distal_axis is not None:
            up = _back(_way(marks, marks.distal_axis))
            yield Measure.PDFA, knee, _between(up, _line_way(marks, knee, outward=False))
        return
    if knee is not None and marks.proximal_axis is not None:
        down = _way(marks, marks.proximal_axis)
        yield Measure.PPTA, knee, _between(down, _line_way(marks, knee, outward=False))
    if ankle is not None and marks.distal_axis is not None:
        up = _back(_way(marks, marks.distal_axis))
        yield Measure.ADTA, ankle, _between(up, _line_way(marks, ankle, outward=True))


def _way(marks: FollowUpMarks, axis: Pair) -> Heading:
    """Direction of an axis, distally."""
    return heading(spot(marks, axis[0]), spot(marks, axis[1]))


def _back(way: Heading) -> Heading:
    return Heading(-way.across, -way.proximal)


def _line_way(marks: FollowUpMarks, line: Pair, *, outward: bool) -> Heading:
    """Direction along a joint line: toward lateral or anterior (outward), or toward medial or posterior."""
    a, b = sorted((spot(marks, line[0]), spot(marks, line[1])), key=_across)
    return heading(a, b) if outward else heading(b, a)


def _across(at: Spot) -> float:
    return at.across_px


def _between(a: Heading, b: Heading) -> float:
    """Angle of two directions, 0 to 180. [deg]"""
    dot = a.across * b.across + a.proximal * b.proximal
    return math.degrees(math.acos(max(-1.0, min(1.0, dot))))
