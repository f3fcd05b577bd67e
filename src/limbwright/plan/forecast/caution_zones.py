"""Nerves and vessels that a blocking screw could meet, by bone, level and the way it is driven."""

from dataclasses import dataclass
from functools import cache

from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import ScrewDirection
from limbwright.published import Source, table
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionZone(Value):
    """A stretch of a bone where a drill in one direction comes near a nerve or vessel."""

    bone: Bone
    """Bone."""
    driven: ScrewDirection
    """Direction of the drill."""
    from_percent: float
    """Proximal end, share of the bone's length below its proximal joint [%]."""
    to_percent: float
    """Distal end [%]."""
    keep_out: bool
    """True where no blocking screw is proposed; False where it is proposed with a word of caution."""
    structure: str
    """What lies there."""
    source: Source
    """Where it comes from."""

    def holds(self, percent: float, driven: ScrewDirection) -> bool:
        """Whether a screw at this level, driven this way, lies in the zone."""
        return driven is self.driven and self.from_percent <= percent <= self.to_percent


@cache
def caution_zones(bone: Bone) -> tuple[CautionZone, ...]:
    """Zones of one bone, in the order of the table."""
    return tuple(
        CautionZone(
            bone=bone,
            driven=ScrewDirection(row.text("driven")),
            from_percent=row.number("from_percent"),
            to_percent=row.number("to_percent"),
            keep_out=row.text("effect") == "keep out",
            structure=row.text("structure"),
            source=row.source,
        )
        for row in table("plan", "blocking_caution_zones")
        if row.text("bone") == bone
    )


def structures_near(bone: Bone, percent: float, driven: ScrewDirection) -> tuple[str, ...]:
    """What a drill at this level and in this direction could meet."""
    return tuple(z.structure for z in caution_zones(bone) if z.holds(percent, driven))
