"""What the treatment is for: target alignment and length, with tolerances and the surgeon's own choices."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from limbwright.error import OutOfRange
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.quantity import Value


class Staging(StrEnum):
    """Two bones in one operation, or one after the other."""

    SIMULTANEOUS = "simultaneous"
    STAGED = "staged"


class Approach(StrEnum):
    """Way to the nail's entry point."""

    SUPRAPATELLAR = "suprapatellar"
    INFRAPATELLAR = "infrapatellar"
    TROCHANTERIC = "trochanteric"
    PIRIFORMIS = "piriformis"
    RETROGRADE = "retrograde through the knee"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneChoice(Value):
    """Decisions on one bone that the surgeon has fixed; whatever is absent the planner chooses."""

    bone: Bone
    """Femur or tibia."""
    lengthening_mm: float | None = None
    """Length to gain in this bone [mm]."""
    direction: Direction | None = None
    """Antegrade or retrograde nail."""
    approach: Approach | None = None
    """Way to the entry point."""
    osteotomy_below_joint_mm: float | None = None
    """Level of the osteotomy that is lengthened, below the bone's proximal joint line (femur: head "
    "centre) along
    the bone [mm]."""
    second_osteotomy_below_joint_mm: float | None = None
    """Level of a second osteotomy of this bone, which is only corrected [mm]."""
    osteotomies: int | None = None
    """How often the bone is cut, 1 or 2; absent = twice only where once would leave an apex."""
    nail: str | None = None
    """Name of a nail in the catalogue."""
    calf_release: bool | None = None
    """Decision on the calf release at the operation; absent = not decided."""

    def __post_init__(self) -> None:
        if self.lengthening_mm is not None and not 0 <= self.lengthening_mm <= 150:
            raise OutOfRange(
                f"lengthening of {self.lengthening_mm:g} mm, expected 0 to 150 mm.",
                where=f"goal, {self.bone}",
                next_step="Give the length to gain in millimetres, or leave it out.",
            )
        if self.osteotomies not in {None, 1, 2}:
            raise OutOfRange(
                f"{self.osteotomies} osteotomies, expected 1 or 2.",
                where=f"goal, {self.bone}",
                next_step="Cut the bone once or twice, or leave it to the planner.",
            )
        if self.osteotomies == 1 and self.second_osteotomy_below_joint_mm is not None:
            raise OutOfRange(
                "one osteotomy is wanted, but a second level is given.",
                where=f"goal, {self.bone}",
                next_step="Leave out the second level, or ask for two osteotomies.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal(Value):
    """Target alignment and length; absent targets follow the other leg when normal, the norm when not."""

    leave_short_mm: float = 0.0
    """Discrepancy wanted at the end, treated leg shorter + [mm]."""
    bones: tuple[BoneChoice, ...] = ()
    """Bones to lengthen and what is fixed about them; empty = choose for me."""
    staging: Staging | None = None
    """Simultaneous or staged when two bones are treated."""
    targets_deg: Mapping[Measure, float] = field(default_factory=dict)
    """Joint-orientation angles wanted at the end that differ from template or norm [deg]."""
    correct_alignment: bool = True
    """False when only length is wanted and the alignment is to be left as it is."""
