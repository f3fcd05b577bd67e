"""How far the fibula has moved against the tibia at both ends since the operation, as a visit records it."""

from dataclasses import dataclass

from limbwright.quantity import Value, require_within


@dataclass(frozen=True, slots=True, kw_only=True)
class FibulaMigration(Value):
    """Migration of the fibula while the tibia lengthens."""

    head_distal_mm: float | None = None
    """Fibular head away from the knee line since the operation, distal + [mm]."""
    malleolus_proximal_mm: float | None = None
    """Tip of the lateral malleolus toward the knee since the operation, proximal + [mm]."""
    sd_mm: float | None = None
    """Standard uncertainty of either; the practice's reading errors of two films when absent [mm]."""

    def __post_init__(self) -> None:
        for name, value, low in (
            ("head_distal_mm", self.head_distal_mm, -60.0),
            ("malleolus_proximal_mm", self.malleolus_proximal_mm, -60.0),
            ("sd_mm", self.sd_mm, 0.0),
        ):
            if value is not None:
                require_within(
                    name, value, low, 60, "mm", next_step="Give the change since the operation in mm."
                )
