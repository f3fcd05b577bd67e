"""The knee: flexion and extension while the femur lengthens, contracture while the tibia lengthens."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.rule import rule_source
from limbwright.published import COMMON_PRACTICE


def knee(s: Standing) -> Iterator[Said]:
    """Knee motion at the latest visit, and a joint that slides out of place."""
    visit = s.visit
    if visit is None or visit.clinical is None or not s.started:
        return
    if visit.clinical.joint_subluxation:
        yield Said(
            Finding(
                id="joint-subluxation",
                severity=Severity.STOP,
                words=f"A joint is recorded as sliding out of place on {visit.seen_on}.",
                next_step="Stop the lengthening and call the surgeon today; shortening may be considered.",
                rule="A joint that subluxates stops the lengthening.",
                source=COMMON_PRACTICE,
            ),
            Pace.REVERSE,
            sooner=True,
        )
    loss = visit.clinical.knee_extension_loss_deg
    if loss is not None:
        yield from _extension(s, loss)
    flexion = visit.clinical.knee_flexion_deg
    if s.bone is Bone.FEMUR and s.lengthening and flexion is not None:
        yield from _flexion(s, flexion)


def _extension(s: Standing, loss: float) -> Iterator[Said]:
    tibia = s.bone is Bone.TIBIA
    name = "knee_flexion_contracture_tibia_deg" if tibia else "knee_extension_loss_femur_deg"
    limit = s.profile.knee_flexion_contracture_tibia_deg if tibia else s.profile.knee_extension_loss_femur_deg
    if loss >= limit:
        yield Said(
            Finding(
                id="knee-contracture",
                severity=Severity.CAUTION,
                words=f"The knee lacks {loss:g} deg of extension; {limit:g} deg is the practice's limit "
                "while "
                f"the {s.bone} lengthens.",
                next_step="Consider an extension brace, more therapy and a slower rate.",
                numbers=numbers(("extension lost", loss, "deg"), ("limit", limit, "deg")),
                rule=f"Loss of extension from {name} on is acted on.",
                source=rule_source(s.profile, name),
            ),
            Pace.SLOW if s.lengthening else None,
            sooner=s.lengthening,
        )


def _flexion(s: Standing, flexion: float) -> Iterator[Said]:
    p = s.profile
    if flexion < p.knee_flexion_stop_below_deg:
        yield Said(
            Finding(
                id="knee-flexion-stop",
                severity=Severity.STOP,
                words=f"The knee bends to {flexion:g} deg, below {p.knee_flexion_stop_below_deg:g} deg.",
                next_step="Consider a rest from lengthening until motion is back.",
                numbers=numbers(
                    ("knee flexion", flexion, "deg"), ("stop below", p.knee_flexion_stop_below_deg, "deg")
                ),
                rule="Flexion below knee_flexion_stop_below_deg stops femoral lengthening.",
                source=rule_source(p, "knee_flexion_stop_below_deg"),
            ),
            Pace.HOLD,
            sooner=True,
        )
    elif flexion < p.knee_flexion_slow_below_deg:
        yield Said(
            Finding(
                id="knee-flexion-slow",
                severity=Severity.CAUTION,
                words=f"The knee bends to {flexion:g} deg, below {p.knee_flexion_slow_below_deg:g} deg.",
                next_step="Consider more therapy and a slower rate.",
                numbers=numbers(
                    ("knee flexion", flexion, "deg"), ("slow below", p.knee_flexion_slow_below_deg, "deg")
                ),
                rule="Flexion below knee_flexion_slow_below_deg slows femoral lengthening.",
                source=rule_source(p, "knee_flexion_slow_below_deg"),
            ),
            Pace.SLOW,
            sooner=True,
        )
    elif flexion < p.knee_flexion_wanted_deg:
        yield Said(
            Finding(
                id="knee-flexion-less-than-wanted",
                severity=Severity.NOTE,
                words=f"The knee bends to {flexion:g} deg; {p.knee_flexion_wanted_deg:g} deg are wanted.",
                next_step="Consider more therapy.",
                numbers=numbers(
                    ("knee flexion", flexion, "deg"), ("wanted", p.knee_flexion_wanted_deg, "deg")
                ),
                rule="knee_flexion_wanted_deg is kept while the femur lengthens.",
                source=rule_source(p, "knee_flexion_wanted_deg"),
            )
        )
