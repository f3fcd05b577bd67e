"""When the new bone may be expected to be consolidated, from the length gained and the healing index.

Healing index: days from the operation to consolidation, divided by centimetres gained. It is larger for short
lengthenings, since latency and the first weeks of healing are shared by fewer centimetres: below 3 cm the
band is too early rather than too late.
"""

from dataclasses import dataclass

from limbwright.limb.anatomy import Bone
from limbwright.practice.by_bone import healing_index_days_per_cm, is_child
from limbwright.practice.profile import Profile
from limbwright.practice.setting import setting
from limbwright.published import Row, Source, table
from limbwright.quantity import Measured, Value, require_within

DAYS_PER_MONTH = 30.4  # as the series that count in months convert
MM_PER_CM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HealingBand(Value):
    """Days after the operation at which consolidation may be expected, none before the last lengthening."""

    bone: Bone
    """Bone that is lengthened."""
    from_day: float
    """Mean less one standard deviation [days after the operation]."""
    mean_day: float
    """Mean [days after the operation]."""
    to_day: float
    """Mean plus one standard deviation [days after the operation]."""
    index: Measured
    """Healing index used: mean and standard deviation between patients [days/cm]."""
    sources: tuple[Source, ...]
    """Where the index comes from and, for a child, its share of an adult's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HealingSeries(Value):
    """Healing index of one published series."""

    name: str
    """Short name of the series."""
    bone: Bone
    """Femur or tibia."""
    entry: str
    """`antegrade` or `retrograde`; empty where the series does not tell, and for the tibia."""
    mean_days_per_cm: float
    """Mean, or median where the source says so [days/cm]."""
    sd_days_per_cm: float | None
    """Standard deviation between patients [days/cm]."""
    low_days_per_cm: float | None
    """Lower end of the range given [days/cm]."""
    high_days_per_cm: float | None
    """Upper end of the range given [days/cm]."""
    source: Source
    """Where it was published, and how far it was checked."""

    def days(self, gained_mm: float) -> float:
        """Days from the operation to consolidation at the mean index. [days]"""
        return self.mean_days_per_cm * gained_mm / MM_PER_CM


def expected_healing(
    profile: Profile,
    *,
    bone: Bone,
    retrograde: bool,
    age_years: float,
    gained_mm: float,
    last_distraction_day: int,
) -> HealingBand:
    """The band in which consolidation may be expected, by the practice profile's healing index.

    Parameters
    ----------
    profile : Profile
        The surgeon's numbers; our defaults are those of a published series.
    bone : Bone
        Femur or tibia.
    retrograde : bool
        True for a nail that enters the femur at the knee; without meaning for the tibia.
    age_years : float
        Age at the operation; a child's index is a share of an adult's. [years]
    gained_mm : float
        Length gained or to be gained. [mm]
    last_distraction_day : int
        Day number of the last lengthening; nothing consolidates before it. [days after the operation]

    Notes
    -----
    day = index × length gained in cm, counted from the operation. Were the index normally distributed, one
    standard deviation either way would hold two patients of three.
    """
    step = "Give the length gained in millimetres."
    require_within("length gained", gained_mm, 0.1, 150, "mm", next_step=step)
    index = healing_index_days_per_cm(profile, bone=bone, retrograde=retrograde, age_years=age_years)
    cm = gained_mm / MM_PER_CM
    earliest = float(last_distraction_day)
    entry = "" if bone is Bone.TIBIA else "_retrograde" if retrograde else "_antegrade"
    names = [f"healing_index_{bone}{entry}_days_per_cm"]
    if is_child(profile, age_years):
        names.append("healing_child_factor")
    return HealingBand(
        bone=bone,
        from_day=max(earliest, (index.value - index.sd) * cm),
        mean_day=max(earliest, index.value * cm),
        to_day=max(earliest, (index.value + index.sd) * cm),
        index=index,
        sources=tuple(setting(name).source for name in names),
    )


def published_series(bone: Bone) -> tuple[HealingSeries, ...]:
    """Published healing indices of a bone with motorised nails, to hold a band or a patient against."""
    return tuple(_series(row) for row in table("course", "healing_index") if row.text("bone") == bone.value)


def _series(row: Row) -> HealingSeries:
    factor = DAYS_PER_MONTH if row.text("unit") == "months/cm" else 1.0

    def days(column: str) -> float | None:
        number = row.optional_number(column)
        return None if number is None else number * factor

    return HealingSeries(
        name=row.text("series"),
        bone=Bone(row.text("bone")),
        entry=row.text("entry"),
        mean_days_per_cm=row.number("mean") * factor,
        sd_days_per_cm=days("sd"),
        low_days_per_cm=days("low"),
        high_days_per_cm=days("high"),
        source=row.source,
    )
