"""Findings about the fibula: why it is tied at both ends, and whether cut and screws lie well."""

from dataclasses import dataclass

from limbwright.finding import Finding, Number, Severity
from limbwright.plan.decision import FibularFixation
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE, Source, Status, table
from limbwright.quantity import Value

DESIGN = Source(text="geometry of the plan", status=Status.DERIVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class TibialLevels(Value):
    """What the fibular plan needs to know of the tibia and of its nail."""

    tibia_length_mm: float
    """Plateau line to plafond line [mm]."""
    osteotomy_below_plateau_mm: float
    """Tibial osteotomy [mm]."""
    fibular_head_below_plateau_mm: float | None = None
    """Tip of the fibular head below the plateau line; None = not marked [mm]."""
    malleolus_below_plafond_mm: float | None = None
    """Tip of the lateral malleolus below the plafond line; None = not marked [mm]."""
    nail_tip_above_plafond_mm: float | None = None
    """Nail tip above the plafond, where it stays: it moves with the distal fragment; None = open [mm]."""


def _row(quantity: str) -> tuple[float, Source]:
    row = next(r for r in table("plan", "fibula") if r.text("quantity") == quantity)
    return row.number("value"), row.source


def why_screws(lengthening_mm: float, profile: Profile) -> list[Finding]:
    """Why both screws are there, from published series."""
    found = []
    unfixed, unfixed_source = _row("head_migration_unfixed")
    held, _ = _row("head_migration_screw")
    if profile.tibiofibular_proximal_screws == 0:
        found.append(
            Finding(
                id="fibula-proximal-screw-missing",
                severity=Severity.CAUTION,
                words="The profile asks for no proximal tibiofibular screw. Unfixed fibular heads moved "
                f"{unfixed:.0f} mm distally on average in one series, in proportion to the length.",
                next_step="Set a proximal screw, or watch the fibular head and the knee's lateral ligament.",
                numbers=(
                    Number(name="mean migration without proximal fixation", value=unfixed, unit="mm"),
                    Number(name="lengthening", value=lengthening_mm, unit="mm"),
                ),
                rule="The fibula is tied to the tibia at both ends.",
                source=unfixed_source,
            )
        )
    else:
        found.append(
            Finding(
                id="fibula-proximal-screw-why",
                severity=Severity.NOTE,
                words=f"The proximal screw keeps the fibular head in place: with it heads moved {held:.1f} "
                f"mm on average, without any proximal fixation {unfixed:.0f} mm. It protects the lateral "
                "ligament of the knee and the tension of the peroneal nerve.",
                next_step="Compare the fibular head with the plateau on every film.",
                numbers=(
                    Number(name="mean migration with a proximal screw", value=held, unit="mm"),
                    Number(name="mean migration without proximal fixation", value=unfixed, unit="mm"),
                ),
                rule="The fibula is tied to the tibia at both ends.",
                source=unfixed_source,
            )
        )
    valgus, source = _row("malleolus_migration_valgus")
    missing = profile.tibiofibular_distal_screws == 0
    found.append(
        Finding(
            id="fibula-distal-screw-why",
            severity=Severity.CAUTION if missing else Severity.NOTE,
            words=(
                "The profile asks for no distal tibiofibular screw. "
                if missing
                else "The distal screw carries the malleolus along. "
            )
            + f"Where it moved up {valgus:g} mm or more, the talus tilted into valgus.",
            next_step="Compare the tips of both malleoli on every film.",
            numbers=(Number(name="proximal migration of the malleolus", value=valgus, unit="mm"),),
            rule="The fibula is tied to the tibia at both ends.",
            source=source,
        )
    )
    return found


def tip_findings(levels: TibialLevels, *, tips: tuple[float, float]) -> list[Finding]:
    """A note on tips of the fibula that are not marked; `tips` are the levels used instead. [mm]"""
    absent = [
        name
        for name, value in (
            ("fibular head", levels.fibular_head_below_plateau_mm),
            ("lateral malleolus", levels.malleolus_below_plafond_mm),
        )
        if value is None
    ]
    if not absent:
        return []
    head, malleolus = tips
    return [
        Finding(
            id="fibula-tip-not-marked",
            severity=Severity.NOTE,
            words=f"The tip of the {' and of the '.join(absent)} is not marked; the fibula is taken to "
            f"reach from {head:g} mm below the plateau to {malleolus:g} mm below the plafond.",
            next_step="Mark both tips on the frontal film.",
            numbers=(
                Number(name="head below the plateau", value=head, unit="mm"),
                Number(name="malleolus below the plafond", value=malleolus, unit="mm"),
            ),
            rule="The level of the fibular cut is a share of the fibula's length.",
            source=_row("head_below_plateau")[1],
        )
    ]


def level_findings(
    levels: TibialLevels,
    level_mm: float,
    fixation: FibularFixation,
    *,
    tips: tuple[float, float],
    profile: Profile,
) -> list[Finding]:
    """Whether osteotomy and screws lie where they can do their work; `tips` as in `tip_findings`. [mm]"""
    found = []
    apart = abs(level_mm - levels.osteotomy_below_plateau_mm)
    wanted_share = profile.fibula_osteotomy_share_of_length
    head, malleolus = tips
    share = 100 * (level_mm - head) / (levels.tibia_length_mm - head + malleolus)
    if abs(share - wanted_share) > 1:
        found.append(
            Finding(
                id="fibula-osteotomy-moved",
                severity=Severity.NOTE,
                words=f"The fibular osteotomy lies at {share:.0f} % of the fibula instead of "
                f"{wanted_share:g} %, to stay {profile.fibula_osteotomy_min_to_tibial_cut_mm:g} mm from the "
                f"tibial cut and {profile.fibula_osteotomy_min_above_ankle_mm:g} mm above the ankle.",
                next_step="Accept it, or move the tibial osteotomy.",
                numbers=(
                    Number(name="distance from the tibial cut", value=apart, unit="mm"),
                    Number(name="share of the fibula's length", value=share, unit="%"),
                ),
                rule="Both bones are cut at clearly different levels, and the fibula clear of the ankle.",
                source=rule_source(
                    profile, "fibula_osteotomy_min_to_tibial_cut_mm", "fibula_osteotomy_min_above_ankle_mm"
                ),
            )
        )
    if level_mm <= fixation.proximal_screw_below_plateau_mm + fixation.screw_diameter_mm:
        found.append(
            Finding(
                id="fibula-osteotomy-no-room",
                severity=Severity.STOP,
                words=f"No room for the fibular osteotomy: {level_mm:.0f} mm below the plateau it would lie "
                f"at the proximal screw ({fixation.proximal_screw_below_plateau_mm:.0f} mm).",
                next_step="Move the tibial osteotomy, or set both fibular levels by hand.",
                numbers=(Number(name="fibular osteotomy below the plateau", value=level_mm, unit="mm"),),
                rule="The fibula is cut between its two screws.",
                source=DESIGN,
            )
        )
    if fixation.proximal_screw_below_plateau_mm >= levels.osteotomy_below_plateau_mm:
        found.append(
            Finding(
                id="fibula-proximal-screw-below-cut",
                severity=Severity.STOP,
                words=f"The proximal tibiofibular screw, {fixation.proximal_screw_below_plateau_mm:.0f} mm "
                "below the plateau, lies below the tibial osteotomy at "
                f"{levels.osteotomy_below_plateau_mm:.0f} mm.",
                next_step="Move the osteotomy down; the screw must hold the fragment above it.",
                numbers=(
                    Number(name="screw", value=fixation.proximal_screw_below_plateau_mm, unit="mm"),
                    Number(name="tibial osteotomy", value=levels.osteotomy_below_plateau_mm, unit="mm"),
                ),
                rule="Each tibiofibular screw sits in the fragment at its own end.",
                source=DESIGN,
            )
        )
    tip = levels.nail_tip_above_plafond_mm
    if tip is not None and fixation.distal_screw_above_plafond_mm + fixation.screw_diameter_mm / 2 > tip:
        found.append(
            Finding(
                id="fibula-distal-screw-beside-nail",
                severity=Severity.CAUTION,
                words=f"The distal tibiofibular screw, {fixation.distal_screw_above_plafond_mm:.0f} mm "
                f"above the plafond, lies beside the nail, whose tip is at {tip:.0f} mm: it must pass "
                "behind it.",
                next_step="Set it after the nail, behind the nail, or choose a shorter nail.",
                numbers=(
                    Number(name="screw", value=fixation.distal_screw_above_plafond_mm, unit="mm"),
                    Number(name="nail tip", value=tip, unit="mm"),
                ),
                rule="A four-cortex screw and the nail cannot share the middle of the canal.",
                source=COMMON_PRACTICE,
            )
        )
    return found
