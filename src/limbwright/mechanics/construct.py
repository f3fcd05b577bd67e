"""The construct: one nail in two fragments with its screws."""

from dataclasses import dataclass, replace

from limbwright.error import Contradiction
from limbwright.mechanics.canal import Canal
from limbwright.mechanics.nail import NailBeam
from limbwright.mechanics.plane import Fragment, Plane
from limbwright.mechanics.screw import BlockingScrew, LockingScrew
from limbwright.quantity import Value, require_within


@dataclass(frozen=True, slots=True, kw_only=True)
class Construct(Value):
    """A nail in the canals of two rigid fragments, before lengthening and with the deformity reduced.

    Depths run along the nail from its end at the entry. The axis of each fragment is the nail's line in it,
    so that no angulation and no step is the intended reduction.
    """

    nail: NailBeam
    """The nail."""
    osteotomy_depth_mm: float
    """Depth of the osteotomy along the nail."""
    entry_canal: Canal
    """Canal of the fragment the nail enters."""
    moving_canal: Canal
    """Canal of the fragment that moves; depths as before lengthening."""
    locking_screws: tuple[LockingScrew, ...] = ()
    """Locking screws of both fragments."""
    blocking_screws: tuple[BlockingScrew, ...] = ()
    """Blocking screws of both fragments."""
    contact_step_mm: float = 5.0
    """Spacing of the places where contact is looked for; 5 to compare variants, 2.5 to report."""

    def __post_init__(self) -> None:
        require_within(
            "osteotomy depth",
            self.osteotomy_depth_mm,
            1,
            self.nail.length_mm - 1,
            "mm",
            next_step="Choose an osteotomy beside the nail.",
        )
        require_within(
            "contact step", self.contact_step_mm, 0.25, 20, "mm", next_step="Use 5 mm, or 2.5 mm to report."
        )
        for plane in Plane:
            entry, moving = self.entry_canal.in_plane(plane), self.moving_canal.in_plane(plane)
            if entry.depth_mm[0] >= self.osteotomy_depth_mm or moving.depth_mm[-1] <= self.osteotomy_depth_mm:
                raise Contradiction(
                    f"the {plane} walls cover {entry.depth_mm[0]:g}-{entry.depth_mm[-1]:g} mm of the entry "
                    f"fragment and {moving.depth_mm[0]:g}-{moving.depth_mm[-1]:g} mm of the moving one, "
                    f"the osteotomy lies at {self.osteotomy_depth_mm:g} mm.",
                    where="canal walls",
                    next_step="Trace the walls on both sides of the osteotomy.",
                )
        screws: tuple[LockingScrew | BlockingScrew, ...] = (*self.locking_screws, *self.blocking_screws)
        for screw in screws:
            beyond = screw.depth_mm >= self.osteotomy_depth_mm
            if beyond != (screw.fragment is Fragment.MOVING):
                raise Contradiction(
                    f"a screw of the {screw.fragment} lies at {screw.depth_mm:g} mm, the osteotomy at "
                    f"{self.osteotomy_depth_mm:g} mm.",
                    where="screws",
                    next_step="Move the screw or name the other fragment.",
                )
        for screw in self.locking_screws:
            if screw.depth_mm > self.nail.length_mm:
                raise Contradiction(
                    f"a locking screw lies at {screw.depth_mm:g} mm, beyond the nail's end at "
                    f"{self.nail.length_mm:g} mm.",
                    where="screws",
                    next_step="Take the hole depths from the nail's drawing.",
                )

    def with_blocking_screws(self, *screws: BlockingScrew) -> "Construct":
        """The same construct with these blocking screws instead of its own."""
        return replace(self, blocking_screws=screws)

    def overlap_mm(self, lengthening_mm: float) -> float:
        """Length of thick segment inside the moving fragment; negative once it has left it."""
        return self.nail.step_depth_mm - self.osteotomy_depth_mm - lengthening_mm

    def beside_thin_rod(self, screw: BlockingScrew, lengthening_mm: float) -> bool:
        """Whether a blocking screw placed beside the thick segment stands beside the thin rod by now."""
        depth = screw.depth_mm + (lengthening_mm if screw.fragment is Fragment.MOVING else 0.0)
        return screw.depth_mm <= self.nail.step_depth_mm < depth
