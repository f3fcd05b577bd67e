"""Follow-up visits: what was seen on the day. Prescribed, reported and measured length are kept apart."""

from dataclasses import dataclass
from datetime import date

from limbwright.course.alignment import Alignment
from limbwright.course.clinical import Clinical
from limbwright.course.fibula_migration import FibulaMigration
from limbwright.course.film_marks import FollowUpMarks
from limbwright.course.hardware_sign import HardwareSign
from limbwright.course.joint_angle import JointAngle
from limbwright.course.new_bone import NewBone
from limbwright.error import Contradiction
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import Value, require_within

LARGEST_GAIN_MM = 250.0  # beyond every nail's stroke; a larger number is a slip of the pen


@dataclass(frozen=True, slots=True, kw_only=True)
class GainedLength(Value):
    """Length one bone has gained since the operation, from the film and from the patient's diary."""

    bone: Bone
    """Bone that was lengthened."""
    measured_mm: float | None = None
    """Read from the film, lengthening + [mm]."""
    measured_sd_mm: float | None = None
    """Standard uncertainty of that reading [mm]; the practice's reading error is used when absent."""
    reported_mm: float | None = None
    """Steps the patient reports to have made, times the step, lengthening + [mm]."""

    def __post_init__(self) -> None:
        for field, value, low in (
            ("measured_mm", self.measured_mm, -LARGEST_GAIN_MM),
            ("measured_sd_mm", self.measured_sd_mm, 0.0),
            ("reported_mm", self.reported_mm, -LARGEST_GAIN_MM),
        ):
            if value is not None:
                require_within(
                    field,
                    value,
                    low,
                    LARGEST_GAIN_MM,
                    "mm",
                    next_step="Give the length gained since the operation in millimetres.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit(Value):
    """One follow-up."""

    seen_on: date
    """Day of the visit."""
    gained: tuple[GainedLength, ...] = ()
    """Length gained, one entry for each bone."""
    films: tuple[str, ...] = ()
    """Names of the case's films that were taken for this visit."""
    note: str = ""
    """Free text; no names of persons."""
    alignment: tuple[Alignment, ...] = ()
    """Angulation and translation since the operation, one entry for each bone."""
    new_bone: tuple[NewBone, ...] = ()
    """New bone, one entry for each bone."""
    joint_angles: tuple[JointAngle, ...] = ()
    """Joint-orientation angles on the films, each once for a bone."""
    fibula: FibulaMigration | None = None
    """Migration of the fibula; absent = not read."""
    hardware_read: bool = False
    """True when nail and screws were looked at on the films; then an empty list means none failed."""
    hardware: tuple[HardwareSign, ...] = ()
    """Signs of failing hardware."""
    clinical: Clinical | None = None
    """Clinical examination; absent = not examined."""
    marks: tuple[FollowUpMarks, ...] = ()
    """Marks on the follow-up films, one entry for each bone and projection."""

    def __post_init__(self) -> None:
        for where, words, bones in (
            ("gained", "length gained", [entry.bone for entry in self.gained]),
            ("alignment", "alignment", [entry.bone for entry in self.alignment]),
            ("new_bone", "new bone", [entry.bone for entry in self.new_bone]),
        ):
            if len(set(bones)) < len(bones):
                raise Contradiction(
                    f"{words} is given twice for one bone ({', '.join(bones)}).",
                    where=where,
                    next_step="Keep one entry for each bone.",
                )
        angles = [f"{angle.bone} {angle.measure}" for angle in self.joint_angles]
        if len(set(angles)) < len(angles):
            raise Contradiction(
                f"an angle is given twice ({', '.join(angles)}).",
                where="joint_angles",
                next_step="Keep one reading of each angle.",
            )
        marked = [f"{marks.bone} {marks.projection}" for marks in self.marks]
        if len(set(marked)) < len(marked):
            raise Contradiction(
                f"marks are given twice for one film ({', '.join(marked)}).",
                where="marks",
                next_step="Keep one set of marks for each bone and projection.",
            )

    def gained_of(self, bone: Bone) -> GainedLength | None:
        """Length gained by one bone; None when it was not read."""
        return next((entry for entry in self.gained if entry.bone is bone), None)

    def alignment_of(self, bone: Bone) -> Alignment | None:
        """Alignment of one bone; None when it was not read."""
        return next((entry for entry in self.alignment if entry.bone is bone), None)

    def new_bone_of(self, bone: Bone) -> NewBone | None:
        """New bone of one bone; None when it was not read."""
        return next((entry for entry in self.new_bone if entry.bone is bone), None)

    def marks_of(self, bone: Bone, projection: Projection) -> FollowUpMarks | None:
        """Marks of one bone on one film; None when there are none."""
        return next((m for m in self.marks if m.bone is bone and m.projection is projection), None)
