"""The ankle while the tibia lengthens: a tight calf, equinus, and after lengthening."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.clinical import Clinical
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.rule import rule_source
from limbwright.published import COMMON_PRACTICE


def ankle(s: Standing) -> Iterator[Said]:
    """Dorsiflexion with the knee straight at the latest visit; equinus is less than 0."""
    visit = s.visit
    if s.bone is not Bone.TIBIA or visit is None:
        return
    clinical = visit.clinical
    if clinical is None or clinical.ankle_dorsiflexion_deg is None:
        if s.started and s.lengthening:
            yield Said(
                Finding(
                    id="ankle-not-examined",
                    severity=Severity.CAUTION,
                    words=f"Ankle dorsiflexion is not recorded for the visit of {visit.seen_on}.",
                    next_step="Measure it with the knee straight and with the knee bent.",
                    rule="While the tibia lengthens, the ankle is measured at every visit.",
                    source=COMMON_PRACTICE,
                )
            )
        return
    up = clinical.ankle_dorsiflexion_deg
    if s.lengthening:
        yield from _while_lengthening(s, clinical, up)
    elif s.started and -up > s.profile.equinus_limit_resting_deg:
        yield Said(
            Finding(
                id="equinus-after-lengthening",
                severity=Severity.CAUTION,
                words=f"Lengthening has ended and the ankle stands in {-up:g} deg of "
                f"equinus.{_which(s, clinical)}",
                next_step="Consider splint and therapy, and a calf release if the equinus stays.",
                numbers=numbers(
                    ("equinus", -up, "deg"), ("limit", s.profile.equinus_limit_resting_deg, "deg")
                ),
                rule="After lengthening, equinus above equinus_limit_resting_deg is a reason for a calf "
                "release.",
                source=rule_source(s.profile, "equinus_limit_resting_deg"),
            )
        )


def _while_lengthening(s: Standing, clinical: Clinical, up: float) -> Iterator[Said]:
    limit = s.profile.equinus_limit_lengthening_deg
    if -up > limit:
        yield Said(
            Finding(
                id="equinus-beyond-limit",
                severity=Severity.STOP,
                words=f"The ankle stands in {-up:g} deg of equinus, beyond {limit:g} "
                f"deg.{_which(s, clinical)}",
                next_step="Consider a rest from lengthening, a splint and a calf release before going on.",
                numbers=numbers(("equinus", -up, "deg"), ("limit", limit, "deg")),
                rule="During lengthening, equinus above equinus_limit_lengthening_deg is treated before "
                "going on.",
                source=rule_source(s.profile, "equinus_limit_lengthening_deg"),
            ),
            Pace.HOLD,
            sooner=True,
        )
    elif up < s.profile.dorsiflexion_slow_below_deg:
        yield Said(
            Finding(
                id="ankle-tight",
                severity=Severity.CAUTION,
                words=f"The ankle comes up to {up:g} deg only, below "
                f"{s.profile.dorsiflexion_slow_below_deg:g} deg.{_which(s, clinical)}",
                next_step="Consider more therapy, a night splint and a slower rate until it is back.",
                numbers=numbers(
                    ("dorsiflexion", up, "deg"), ("slow below", s.profile.dorsiflexion_slow_below_deg, "deg")
                ),
                rule="Dorsiflexion below dorsiflexion_slow_below_deg is a reason to slow the lengthening.",
                source=rule_source(s.profile, "dorsiflexion_slow_below_deg"),
            ),
            Pace.SLOW,
            sooner=True,
        )


def _which(s: Standing, clinical: Clinical) -> str:
    """Which muscle is tight: the gastrocnemius crosses the knee, the soleus does not."""
    bent = clinical.ankle_dorsiflexion_knee_bent_deg
    if bent is None or clinical.ankle_dorsiflexion_deg is None:
        return ""
    gains = bent - clinical.ankle_dorsiflexion_deg >= s.profile.gastrocnemius_gain_deg
    muscle = "the gastrocnemius alone" if gains else "gastrocnemius and soleus"
    return f" With the knee bent it reaches {bent:g} deg: {muscle} may be tight."
