"""The medullary canal of one fragment as its inner walls in both planes, traced or idealised."""

from dataclasses import dataclass

from limbwright.error import Contradiction
from limbwright.mechanics.plane import Plane
from limbwright.quantity import Value

_TRACE_AGAIN = "Trace the inner walls again, or give the canal as a width."


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls(Value):
    """Inner walls of a fragment in one plane, sampled along the line of the nail in that fragment.

    Depth as along the nail before lengthening, rising; offsets from that line, lateral + or anterior +.
    Between samples the walls are straight. Outside the samples the nail is taken to be free of bone.
    """

    depth_mm: tuple[float, ...]
    """Depths of the samples, rising."""
    negative_mm: tuple[float, ...]
    """Offset of the medial (frontal) or posterior (sagittal) wall at each depth."""
    positive_mm: tuple[float, ...]
    """Offset of the lateral (frontal) or anterior (sagittal) wall at each depth."""

    def __post_init__(self) -> None:
        n = len(self.depth_mm)
        if n < 2 or len(self.negative_mm) != n or len(self.positive_mm) != n:
            raise Contradiction(
                f"{n} depths with {len(self.negative_mm)} and {len(self.positive_mm)} wall offsets.",
                where="canal walls",
                next_step=_TRACE_AGAIN,
            )
        if any(b <= a for a, b in zip(self.depth_mm, self.depth_mm[1:], strict=False)):
            raise Contradiction("depths do not rise.", where="canal walls", next_step=_TRACE_AGAIN)
        for depth, low, high in zip(self.depth_mm, self.negative_mm, self.positive_mm, strict=True):
            if not low < high:
                raise Contradiction(
                    f"the walls cross at depth {depth:g} mm ({low:g} and {high:g} mm).",
                    where="canal walls",
                    next_step=_TRACE_AGAIN,
                )

    def shifted(self, by_mm: float) -> "Walls":
        """The same walls moved sideways against the nail's line."""
        return Walls(
            depth_mm=self.depth_mm,
            negative_mm=tuple(x + by_mm for x in self.negative_mm),
            positive_mm=tuple(x + by_mm for x in self.positive_mm),
        )

    def mirrored(self) -> "Walls":
        """The walls seen in a mirror: sides exchanged."""
        return Walls(
            depth_mm=self.depth_mm,
            negative_mm=tuple(-x for x in self.positive_mm),
            positive_mm=tuple(-x for x in self.negative_mm),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Canal(Value):
    """Inner walls of one fragment in both planes."""

    frontal: Walls
    """Walls on the frontal film: medial and lateral."""
    sagittal: Walls
    """Walls on the sagittal film: posterior and anterior."""

    def in_plane(self, plane: Plane) -> Walls:
        """Walls of one plane."""
        return self.frontal if plane is Plane.FRONTAL else self.sagittal


def straight_canal(*, diameter_mm: float, start_depth_mm: float, end_depth_mm: float) -> Canal:
    """A round canal of one width, centred on the nail's line."""
    half = 0.5 * diameter_mm
    walls = Walls(
        depth_mm=(start_depth_mm, end_depth_mm), negative_mm=(-half, -half), positive_mm=(half, half)
    )
    return Canal(frontal=walls, sagittal=walls)


def flared_canal(
    *,
    isthmus_diameter_mm: float,
    isthmus_depth_mm: float,
    flare_mm: float,
    flare_length_mm: float,
    start_depth_mm: float,
    end_depth_mm: float,
    step_mm: float = 5.0,
) -> Canal:
    """A round canal widening toward the entry.

    Diameter D + flare ((isthmus depth - depth) / flare length)^2 above the isthmus, D below it.
    """
    count = max(2, round((end_depth_mm - start_depth_mm) / step_mm) + 1)
    depths = tuple(start_depth_mm + (end_depth_mm - start_depth_mm) * i / (count - 1) for i in range(count))
    halves = tuple(
        0.5 * (isthmus_diameter_mm + flare_mm * (max(isthmus_depth_mm - z, 0.0) / flare_length_mm) ** 2)
        for z in depths
    )
    walls = Walls(depth_mm=depths, negative_mm=tuple(-h for h in halves), positive_mm=halves)
    return Canal(frontal=walls, sagittal=walls)
