"""New bone in the gap as a visit records it: density by cortex, width, shape, cortices bridged.

Pixel value ratio: mean grey of one cortex of the new bone over mean grey of the same cortex of the bone above
and below, on one film (Zhao et al., Clin Orthop Relat Res 2009, 467:3321). The nail's shadow is left out.
"""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Contradiction
from limbwright.film.new_bone import NewBoneShape
from limbwright.limb.anatomy import Bone
from limbwright.limb.view import Border
from limbwright.quantity import Measured, Value, require_within

CORTICES_THAT_CARRY = 3  # of four on two films, the published sign of a bone that carries


class NewBoneTexture(StrEnum):
    """Texture of the new bone (Singh et al., Skeletal Radiol 2010, read)."""

    HOMOGENEOUS = "homogeneous"
    HETEROGENEOUS = "heterogeneous"
    LUCENT = "lucent"


@dataclass(frozen=True, slots=True, kw_only=True)
class CortexReading(Value):
    """One cortex of the new bone on a film."""

    cortex: Border
    """Medial and lateral on the frontal film, anterior and posterior on the sagittal film."""
    pixel_value_ratio: float | None = None
    """Grey of the new bone's cortex over that of the bone beside it."""
    pixel_value_ratio_sd: float | None = None
    """Standard uncertainty of it; `pixel_value_ratio_sd` of the practice profile when absent."""
    bridged: bool | None = None
    """Whether bone runs through the whole gap on this side; absent = not judged."""

    def __post_init__(self) -> None:
        step = "Measure new bone and the bone beside it on the same film, dense = high."
        if self.pixel_value_ratio is not None:
            require_within("pixel_value_ratio", self.pixel_value_ratio, 0, 2, "", next_step=step)
        if self.pixel_value_ratio_sd is not None:
            require_within("pixel_value_ratio_sd", self.pixel_value_ratio_sd, 0, 1, "", next_step=step)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBone(Value):
    """New bone of one lengthened bone at one visit."""

    bone: Bone
    """Femur or tibia."""
    cortices: tuple[CortexReading, ...] = ()
    """Up to four, each once."""
    width_ratio: float | None = None
    """Narrowest new bone over the bone's width at the osteotomy (callus diameter ratio)."""
    width_ratio_sd: float | None = None
    """Standard uncertainty of it; `width_ratio_sd` of the practice profile when absent."""
    shape: NewBoneShape | None = None
    """Outline."""
    texture: NewBoneTexture | None = None
    """Texture."""

    def __post_init__(self) -> None:
        seen = [reading.cortex for reading in self.cortices]
        if len(set(seen)) < len(seen):
            raise Contradiction(
                f"one cortex is read twice ({', '.join(seen)}).",
                where="cortices",
                next_step="Keep one reading for each cortex.",
            )
        step = "Give narrowest width over the bone's width, 1 = as wide as the bone."
        if self.width_ratio is not None:
            require_within("width_ratio", self.width_ratio, 0, 4, "", next_step=step)
        if self.width_ratio_sd is not None:
            require_within("width_ratio_sd", self.width_ratio_sd, 0, 1, "", next_step=step)

    def bridged(self) -> int | None:
        """Cortices judged as bridged, of four; None when none was judged."""
        judged = [reading.bridged for reading in self.cortices if reading.bridged is not None]
        return sum(judged) if judged else None

    def dense(self, ratio: float) -> int | None:
        """Cortices whose pixel value ratio is at least `ratio`; None when none was measured."""
        read = self._ratios()
        return sum(value >= ratio for value in read) if read else None

    def carrying_ratio(self, *, default_sd: float) -> Measured | None:
        """Pixel value ratio that decides: of the cortices, the third best; of fewer than three, the lowest.

        Three of four cortices are wanted before the bone carries, so the third best tells how far it is.

        Parameters
        ----------
        default_sd : float
            Standard uncertainty of one cortex where the reading gives none.
        """
        read = sorted(
            (
                (
                    r.pixel_value_ratio,
                    default_sd if r.pixel_value_ratio_sd is None else r.pixel_value_ratio_sd,
                )
                for r in self.cortices
                if r.pixel_value_ratio is not None
            ),
            reverse=True,
        )
        if not read:
            return None
        value, sd = read[min(CORTICES_THAT_CARRY, len(read)) - 1]
        return Measured(value=value, sd=sd, unit="")

    def _ratios(self) -> list[float]:
        return [r.pixel_value_ratio for r in self.cortices if r.pixel_value_ratio is not None]
