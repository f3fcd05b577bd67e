"""What the reader of a follow-up film says about nail and screws."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value


class HardwareSignKind(StrEnum):
    """What is seen on nail or screws."""

    SCREW_BROKEN = "screw broken"
    SCREW_BACKING_OUT = "screw backing out"
    NAIL_BROKEN = "nail broken"
    NAIL_MOVED = "nail moved in its fragment"
    LUCENCY_AROUND = "lucency around hardware"


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareSign(Value):
    """One sign of failing hardware."""

    kind: HardwareSignKind
    """What is seen."""
    bone: Bone
    """Bone it is in; the fibula for a tibiofibular screw's fibular end."""
    which: str = ""
    """Which screw or part, in words: 'distal locking screw'."""
