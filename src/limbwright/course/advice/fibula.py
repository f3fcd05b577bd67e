"""Migration of the fibula at both ends while the tibia lengthens."""

from collections.abc import Iterator

from limbwright.course.advice.said import Said, numbers
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.rule import rule_source


def fibula(s: Standing) -> Iterator[Said]:
    """Fibular head and lateral malleolus at the latest visit."""
    if s.bone is not Bone.TIBIA or s.visit is None or s.visit.fibula is None:
        return
    head, malleolus = s.visit.fibula.head_distal_mm, s.visit.fibula.malleolus_proximal_mm
    p = s.profile
    if head is not None and head >= p.fibular_head_migration_watch_mm:
        alert = head >= p.fibular_head_migration_alert_mm
        name = "fibular_head_migration_alert_mm" if alert else "fibular_head_migration_watch_mm"
        yield Said(
            Finding(
                id="fibular-head-migrates",
                severity=Severity.STOP if alert else Severity.CAUTION,
                words=f"The fibular head has moved {head:.1f} mm distally since the operation.",
                next_step="Look at the proximal tibiofibular screw; consider fixing the fibula again.",
                numbers=numbers(
                    ("migration", head, "mm"),
                    ("watch from", p.fibular_head_migration_watch_mm, "mm"),
                    ("act from", p.fibular_head_migration_alert_mm, "mm"),
                ),
                rule=f"Migration from {name} on is pointed out.",
                source=rule_source(p, name),
            ),
            sooner=True,
        )
    if malleolus is not None and malleolus >= p.malleolus_migration_watch_mm:
        alert = malleolus >= p.malleolus_migration_alert_mm
        name = "malleolus_migration_alert_mm" if alert else "malleolus_migration_watch_mm"
        yield Said(
            Finding(
                id="malleolus-migrates",
                severity=Severity.STOP if alert else Severity.CAUTION,
                words=f"The lateral malleolus has moved {malleolus:.1f} mm proximally since the operation.",
                next_step="Look at the distal tibiofibular screw and the talar tilt; consider fixing the "
                "fibula "
                "again.",
                numbers=numbers(
                    ("migration", malleolus, "mm"),
                    ("watch from", p.malleolus_migration_watch_mm, "mm"),
                    ("act from", p.malleolus_migration_alert_mm, "mm"),
                ),
                rule=f"Migration from {name} on is pointed out.",
                source=rule_source(p, name),
            ),
            sooner=True,
        )
