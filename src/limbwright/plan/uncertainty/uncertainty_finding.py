"""What the uncertainty of a plan means: how probable the end is, and what is worth measuring again."""

from limbwright.finding import Finding, Number, Severity
from limbwright.plan.rule import rule_source
from limbwright.plan.uncertainty.values import PlanUncertainty, told
from limbwright.practice.profile import Profile
from limbwright.published import Source, Status
from limbwright.quantity import Sense

SAMPLED = Source(
    text="quasi-random draws through geometry and nail-in-canal model, docs/search.md", status=Status.DERIVED
)
MOST_NAMED = 3


def uncertainty_findings(made: PlanUncertainty, profile: Profile) -> tuple[Finding, ...]:
    """Probability of the end, and what to measure again for the result that is least sure."""
    if not made.criteria:
        return ()
    least, bones = made.least_sure, " and ".join(made.bones)
    target = told(least.name, least.target)
    word = "" if target.direction is Sense.NONE else f" {target.direction}"
    wanted = profile.probability_wanted_percent / 100
    low = made.inside_all < wanted
    found = [
        Finding(
            id="end-inside-tolerance",
            severity=Severity.CAUTION if low else Severity.NOTE,
            words=f"The leg ({bones}) ends inside all tolerances in {100 * made.inside_all:.0f} of 100 "
            f"draws; least sure is {least.name} ({100 * least.probability:.0f} of 100 within "
            f"{least.tolerance:g} {least.unit} of {target.magnitude:.1f}{word}).",
            next_step="Compare the candidates by this probability, and measure again what matters most."
            if low
            else "Keep to the plan's levels and angles in theatre.",
            numbers=tuple(
                Number(name=f"probability, {c.name}", value=100 * c.probability, unit="%")
                for c in made.criteria
            ),
            rule=f"A plan ends inside all tolerances in {profile.probability_wanted_percent:g} of 100 draws.",
            source=rule_source(profile, "probability_wanted_percent"),
        )
    ]
    again = made.worth_measuring(least.name)
    if low and again:
        names = ", ".join(f"{m.name} ({100 * m.total:.0f} %)" for m in again[:MOST_NAMED])
        found.append(
            Finding(
                id="worth-measuring-again",
                severity=Severity.NOTE,
                words=f"Worth measuring again for {least.name}: {names} of its spread.",
                next_step="Mark or calibrate these again, on the full-resolution film or on a second one.",
                rule="What explains a tenth of the spread and can be measured again is worth it.",
                source=SAMPLED,
            )
        )
    return tuple(found)
