"""Nail and screws on the films, stroke and overlap that are left."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.hardware_sign import HardwareSignKind
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.rule import rule_source
from limbwright.published import COMMON_PRACTICE

BROKEN = (HardwareSignKind.NAIL_BROKEN, HardwareSignKind.SCREW_BROKEN, HardwareSignKind.NAIL_MOVED)


def hardware(s: Standing) -> Iterator[Said]:
    """Signs of failing hardware at the latest visit."""
    if s.visit is None:
        return
    for sign in s.visit.hardware:
        if sign.bone is not s.bone and not (sign.bone is Bone.FIBULA and s.bone is Bone.TIBIA):
            continue
        which = f" ({sign.which})" if sign.which else ""
        if sign.kind in BROKEN:
            yield Said(
                Finding(
                    id="hardware-broken",
                    severity=Severity.STOP,
                    words=f"{str(sign.kind).capitalize()} in the {sign.bone}{which}, film of "
                    f"{s.visit.seen_on}.",
                    next_step="Stop doses and weight until the surgeon has seen the films.",
                    rule="Broken or displaced hardware stops the lengthening.",
                    source=COMMON_PRACTICE,
                ),
                Pace.HOLD if s.lengthening else None,
                sooner=True,
            )
        else:
            yield Said(
                Finding(
                    id="hardware-loosening",
                    severity=Severity.CAUTION,
                    words=f"{str(sign.kind).capitalize()} in the {sign.bone}{which}, film of "
                    f"{s.visit.seen_on}.",
                    next_step="Compare with the next film, sooner than usual; think of infection.",
                    rule="Loosening hardware is watched.",
                    source=COMMON_PRACTICE,
                ),
                sooner=True,
            )


def overlap(s: Standing) -> Iterator[Said]:
    """Thick part of the nail that is left inside the moving fragment at the length prescribed."""
    nail, depth = s.facts.nail, s.facts.osteotomy_depth_mm
    target = min(s.treatment.target_mm, nail.stroke_mm if nail else 0.0)
    if nail is None or depth is None or not s.lengthening:
        return
    left = nail.overlap_at_mm(osteotomy_depth_mm=depth, lengthening_mm=target)
    if left >= s.profile.overlap_mm:
        return
    now = nail.overlap_at_mm(
        osteotomy_depth_mm=depth, lengthening_mm=min(max(s.now.length.value, 0.0), nail.stroke_mm)
    )
    yield Said(
        Finding(
            id="overlap-short-at-target",
            severity=Severity.STOP if left <= 0 else Severity.CAUTION,
            words=f"The thick part reaches {now:.0f} mm into the moving fragment now and {left:.0f} mm at "
            f"{target:g} mm; {s.profile.overlap_mm:g} mm are wanted.",
            next_step="Weigh a lesser goal, and watch alignment more closely near the end.",
            numbers=numbers(
                ("overlap now", now, "mm"),
                ("overlap at full length", left, "mm"),
                ("wanted", s.profile.overlap_mm, "mm"),
            ),
            rule="overlap_mm of the thick part stays inside the moving fragment.",
            source=rule_source(s.profile, "overlap_mm"),
        )
    )
