"""Ways to the nail's entry point: what each means for the knee's position and for the entry."""

from dataclasses import dataclass

from limbwright.error import Contradiction
from limbwright.finding import Finding, Number, Severity
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.goal import Approach
from limbwright.practice.profile import Profile
from limbwright.published import Row, table
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class ApproachOption(Value):
    """One way to the entry point and what it means."""

    approach: Approach
    """Which way."""
    bone: Bone
    """Femur or tibia."""
    direction: Direction
    """Antegrade or retrograde."""
    entry: str
    """Where the nail enters, in words."""
    knee_position: str
    """How the knee lies while the nail goes in."""
    knee_flexion_from_deg: float
    """Least knee flexion needed; 0 where the knee does not matter [deg]."""
    knee_flexion_to_deg: float
    """Most that is used; 0 where the knee does not matter [deg]."""
    means: str
    """What it means for the operation."""
    possible: bool | None
    """Whether the knee bends enough; None when that was not examined."""
    findings: tuple[Finding, ...]
    """What stands in the way."""


def approach_options(
    *, bone: Bone, direction: Direction, examination: Examination, profile: Profile
) -> tuple[ApproachOption, ...]:
    """Ways to the entry point of one bone, the profile's preference first.

    Parameters
    ----------
    bone : Bone
        Femur or tibia.
    direction : Direction
        Way the nail is driven; the tibia is antegrade only.
    examination : Examination
        Knee motion and joints.
    profile : Profile
        Preferred tibial approach.

    Raises
    ------
    Contradiction
        If there is no such nail: a retrograde tibia, or the fibula.
    """
    rows = [r for r in table("plan", "approaches") if r.text("bone") == bone]
    rows = [r for r in rows if r.text("direction") == direction]
    if not rows:
        raise Contradiction(
            f"a {direction} nail in the {bone}.",
            where="approach",
            next_step="A femur is nailed antegrade or retrograde, a tibia antegrade.",
        )
    rows.sort(key=lambda r: r.text("approach") != profile.tibial_approach)
    return tuple(_option(row, examination) for row in rows)


def approach_option(
    approach: Approach, *, examination: Examination, direction: Direction, bone: Bone
) -> ApproachOption:
    """One way to the entry point, with what stands in its way.

    Raises
    ------
    Contradiction
        If the approach does not lead to this bone or direction.
    """
    row = next(r for r in table("plan", "approaches") if r.text("approach") == approach)
    if row.text("bone") != bone or row.text("direction") != direction:
        raise Contradiction(
            f"the approach '{approach}' for a {direction} nail in the {bone}.",
            where="approach",
            next_step=f"It leads to a {row.text('direction')} nail in the {row.text('bone')}.",
        )
    return _option(row, examination)


def _option(row: Row, examination: Examination) -> ApproachOption:
    low, high = row.number("flexion_from_deg"), row.number("flexion_to_deg")
    possible, findings = _knee(row, low, high, examination)
    return ApproachOption(
        approach=Approach(row.text("approach")),
        bone=Bone(row.text("bone")),
        direction=Direction(row.text("direction")),
        entry=row.text("entry"),
        knee_position=row.text("knee_position"),
        knee_flexion_from_deg=low,
        knee_flexion_to_deg=high,
        means=row.text("means"),
        possible=possible,
        findings=findings,
    )


def _knee(
    row: Row, low: float, high: float, examination: Examination
) -> tuple[bool | None, tuple[Finding, ...]]:
    """Whether the knee allows the approach: enough flexion, and not held bent beyond it."""
    if high == 0:
        return True, ()
    name = row.text("approach")
    rule = f"The approach '{name}' needs the knee at {low:g} to {high:g} degrees of flexion."
    if examination.knee is JointState.FUSED:
        return False, (
            Finding(
                id="approach-knee-fused",
                severity=Severity.STOP,
                words=f"The knee is fused; the approach '{name}' goes through it.",
                next_step="Choose a nail that does not enter at the knee.",
                rule=rule,
                source=row.source,
            ),
        )
    bent = examination.knee_extension_loss_deg
    if bent is not None and bent > high:
        return False, (
            Finding(
                id="approach-knee-contracture",
                severity=Severity.STOP,
                words=f"The knee cannot be straightened beyond {bent:.0f} degrees of flexion; the approach "
                f"'{name}' uses at most {high:g}.",
                next_step="Treat the contracture first, or choose another approach.",
                numbers=(Number(name="flexion contracture", value=bent, unit="deg"),),
                rule=rule,
                source=row.source,
            ),
        )
    flexion = examination.knee_flexion_deg
    if flexion is None:
        return None, (
            Finding(
                id="approach-knee-not-examined",
                severity=Severity.CAUTION,
                words=f"Knee flexion is not recorded; the approach '{name}' needs {low:g} degrees.",
                next_step="Examine the knee and record its flexion.",
                numbers=(Number(name="flexion needed", value=low, unit="deg"),),
                rule=rule,
                source=row.source,
            ),
        )
    if flexion < low:
        return False, (
            Finding(
                id="approach-knee-too-stiff",
                severity=Severity.STOP,
                words=f"The knee bends to {flexion:.0f} degrees; the approach '{name}' needs {low:g}.",
                next_step="Choose another approach, or release the knee first.",
                numbers=(
                    Number(name="flexion found", value=flexion, unit="deg"),
                    Number(name="flexion needed", value=low, unit="deg"),
                ),
                rule=rule,
                source=row.source,
            ),
        )
    return True, ()
