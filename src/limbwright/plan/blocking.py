"""Blocking screws: where the nail leaves a gap on the side a fragment drifts into, and what closes it.

A screw stands beside the nail on the concave side of the expected drift, near the cut. It is planned where
the gap there is wide enough to matter; where the nail lies on that cortex none is planned and the number is
said.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.view import Border
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import BlockingScrew, ScrewDirection
from limbwright.plan.drift import CONCAVE, PLANE, fragment_tilt_deg
from limbwright.published import Source, Status
from limbwright.quantity import Sense, Value

CONCAVE_SIDE = Source(
    text="Muthusamy et al., The use of blocking screws with internal lengthening nail and reverse rule of "
    "thumb, Strategies Trauma Limb Reconstr 11(3), 2016, table 1 (sides and screw directions)",
    status=Status.VERIFIED,
)
RIGID_NAIL = Source(text="rigid straight nail between two contacts of a fragment", status=Status.DERIVED)
POSITIVE_SIDES = frozenset({Border.LATERAL, Border.ANTERIOR})


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockingRules(Value):
    """The surgeon's numbers for blocking screws."""

    gap_mm: float
    """Gap on the concave side above which a screw is considered [mm]."""
    min_to_osteotomy_mm: float
    """Least distance from the osteotomy [mm]."""
    max_to_osteotomy_mm: float
    """Greatest distance from the osteotomy [mm]."""
    diameter_mm: float
    """Screw diameter [mm]."""
    drill_mm: float
    """Drill [mm]."""
    clearance_mm: float
    """Play between screw and nail [mm]."""
    to_hardware_mm: float
    """Least distance to other hardware, surface to surface [mm]."""
    locking_play_mm: float
    """Play of a locking screw in its hole, to each side [mm]."""
    most: int
    """Most screws considered in one plan."""
    thick_beyond_mm: float
    """Thick part that must still reach beyond a screw at full length [mm]."""
    worth_deg: float
    """Angulation one more screw must save [deg]."""
    source: Source
    """Where these numbers come from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NailInBone(Value):
    """The nail as it lies in the corrected bone, for blocking screws."""

    bone: Bone
    """Bone."""
    entry_fragment: Fragment
    """Fragment that holds the nail's entry end."""
    osteotomy_depth_mm: float
    """Depth of the osteotomy [mm]."""
    lengthening_mm: float
    """Length to gain [mm]."""
    length_mm: float
    """Closed length of the nail [mm]."""
    thick_length_mm: float
    """Length of the thick part [mm]."""
    thick_diameter_mm: float
    """Diameter of the thick part [mm]."""
    thin_diameter_mm: float
    """Diameter of the thin part [mm]."""
    hole_depths_mm: tuple[float, ...]
    """Depths of the locking screws, nail closed [mm]."""
    hole_diameter_mm: float
    """Diameter of the locking screws [mm]."""

    def sign(self, fragment: Fragment) -> float:
        """+1 where going away from the cut into the fragment goes deeper along the nail, else -1."""
        return -1.0 if fragment is self.entry_fragment else 1.0

    def far_lock_mm(self, fragment: Fragment) -> float | None:
        """Depth of the fragment's locking screw farthest from the cut; None without one. [mm]"""
        sign = self.sign(fragment)
        inside = [d for d in self.hole_depths_mm if sign * (d - self.osteotomy_depth_mm) > 0]
        return max(inside, key=lambda d: sign * d, default=None)

    def radius_mm(self, depth_mm: float) -> float:
        """Radius at a depth, nail closed. [mm]"""
        return (self.thick_diameter_mm if depth_mm <= self.thick_length_mm else self.thin_diameter_mm) / 2

    def slack_mm(self, fragment: Fragment, depth_mm: float) -> float:
        """Play a place of a fragment has gained by full length, the thick part having withdrawn from it. [mm]

        depth_mm : depth of the place, nail closed.
        """
        gained = 0.0 if fragment is self.entry_fragment else self.lengthening_mm
        return self.radius_mm(depth_mm) - self.radius_mm(depth_mm + gained)


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftPlay(Value):
    """What the nail leaves one fragment toward one direction of drift."""

    fragment: Fragment
    """Fragment."""
    sense: Sense
    """Direction of drift."""
    gap_mm: float
    """Gap beside the nail on the concave side at the screw's level [mm]."""
    tilt_deg: float
    """Tilt a rigid nail allows at full length without a screw [deg]."""
    tilt_with_screw_deg: float
    """Tilt at full length with a screw there [deg]."""


def play_toward(
    nail: NailInBone, canal: CanalAlong, sense: Sense, depth_mm: float, rules: BlockingRules
) -> DriftPlay:
    """Gap and rigid tilt of one fragment toward a drift, without and with a screw at a depth.

    Notes
    -----
    The far contact is the fragment's locking screw, which holds with its play; without one it is the opposite
    wall at the end of the nail or of the traced canal. At full length the thick part may have withdrawn: gap
    and screw then have the difference of the radii more.
    """
    fragment = canal.fragment
    low, high = canal.gaps_mm(depth_mm, nail.radius_mm(depth_mm))
    gap = float(high if CONCAVE[sense] in POSITIVE_SIDES else low)
    lock = nail.far_lock_mm(fragment)
    if lock is not None:
        far, play = lock, rules.locking_play_mm
    else:
        end = 0.0 if fragment is nail.entry_fragment else nail.length_mm
        far = float(np.clip(end, canal.inner.depth_mm[0], canal.inner.depth_mm[-1]))
        low, high = canal.gaps_mm(far, nail.radius_mm(far))
        play = float(low if CONCAVE[sense] in POSITIVE_SIDES else high)
    span, slack = max(abs(far - depth_mm), 1.0), nail.slack_mm(fragment, depth_mm)
    return DriftPlay(
        fragment=fragment,
        sense=sense,
        gap_mm=gap,
        tilt_deg=float(fragment_tilt_deg(gap + slack, play, span)),
        tilt_with_screw_deg=float(fragment_tilt_deg(min(rules.clearance_mm, gap) + slack, play, span)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockingPlan(Value):
    """Blocking screws of one bone with what they gain."""

    screws: tuple[BlockingScrew, ...]
    """Screws to place, the one that saves most first."""
    plays: tuple[DriftPlay, ...]
    """What the nail leaves each fragment toward each expected drift."""
    findings: tuple[Finding, ...]
    """What was decided and why."""

    def toggle_deg(self, sense: Sense, *, with_screws: bool) -> float:
        """Sum of both fragments' rigid tilt toward one drift. [deg]"""
        placed = {(s.fragment, s.side) for s in self.screws}
        return sum(
            p.tilt_with_screw_deg if with_screws and (p.fragment, CONCAVE[p.sense]) in placed else p.tilt_deg
            for p in self.plays
            if p.sense is sense
        )


def screw_depth_mm(
    nail: NailInBone, fragment: Fragment, rules: BlockingRules, beside: Sequence[float] = ()
) -> float | None:
    """Level for a blocking screw in a fragment: as near the cut as allowed and clear of other screws. [mm]

    None where the allowed stretch has no free level.

    Parameters
    ----------
    beside : sequence of float
        Depths of blocking screws already placed; one driven across another at its level would meet it. [mm]
    """
    sign = nail.sign(fragment)
    spread = (rules.diameter_mm + nail.hole_diameter_mm) / 2 + rules.to_hardware_mm
    between = rules.diameter_mm + rules.to_hardware_mm
    step = 1.0
    for away in np.arange(rules.min_to_osteotomy_mm, rules.max_to_osteotomy_mm + step / 2, step):
        depth = nail.osteotomy_depth_mm + sign * float(away)
        if not 0 < depth < nail.length_mm:
            break
        clear = all(abs(depth - hole) >= spread for hole in nail.hole_depths_mm)
        if clear and all(abs(depth - other) >= between for other in beside):
            return depth
    return None


def blocking_plan(
    *,
    nail: NailInBone,
    canals: tuple[CanalAlong, ...],
    senses: tuple[Sense, ...],
    rules: BlockingRules,
) -> BlockingPlan:
    """Blocking screws against the expected drift, in both fragments.

    Parameters
    ----------
    canals : tuple of CanalAlong
        Traced canals along the nail's line; a plane or fragment that is not there gets no screw.
    senses : tuple of Sense
        Expected directions of drift, one per plane.
    """
    plays: list[DriftPlay] = []
    wanted: list[tuple[float, BlockingScrew]] = []
    findings: list[Finding] = []
    places = [(sense, canal) for sense in senses for canal in canals if canal.projection is PLANE[sense]]
    # The screw that saves most takes the nearest level; one across it in the same fragment goes beyond it.
    for sense, canal in sorted(places, key=lambda place: -_saved_nearest(nail, place[0], place[1], rules)):
        taken = [screw.depth_mm for _saved, screw in wanted if screw.fragment is canal.fragment]
        depth = screw_depth_mm(nail, canal.fragment, rules, taken)
        if depth is None:
            findings.append(_no_level(nail, canal.fragment, sense, rules))
            continue
        play = play_toward(nail, canal, sense, depth, rules)
        plays.append(play)
        saved = play.tilt_deg - play.tilt_with_screw_deg
        if play.gap_mm <= rules.gap_mm or saved < rules.worth_deg:
            findings.append(_not_needed(nail, play, rules))
            continue
        screw = _screw(nail, canal.fragment, sense, depth, rules)
        outside = _beyond_bone_mm(canal, screw)
        if outside is not None and outside > 0:
            findings.append(_no_room(nail, play, outside, rules))
            continue
        wanted.append((saved, screw))
        if play.gap_mm < rules.clearance_mm + rules.diameter_mm:
            findings.append(_notches(nail, play, rules))
        if canal.fragment is not nail.entry_fragment:
            findings += _slack(nail, depth, sense, rules)
    wanted.sort(key=lambda pair: -pair[0])
    if len(wanted) > rules.most:
        findings.append(_left_out(nail, len(wanted), rules))
    return BlockingPlan(
        screws=tuple(screw for _saved, screw in wanted[: rules.most]),
        plays=tuple(plays),
        findings=tuple(findings),
    )


def _saved_nearest(nail: NailInBone, sense: Sense, canal: CanalAlong, rules: BlockingRules) -> float:
    """What a screw at the nearest free level would save; nothing where there is none. [deg]"""
    depth = screw_depth_mm(nail, canal.fragment, rules)
    if depth is None:
        return 0.0
    play = play_toward(nail, canal, sense, depth, rules)
    return play.tilt_deg - play.tilt_with_screw_deg


def _screw(
    nail: NailInBone, fragment: Fragment, sense: Sense, depth_mm: float, rules: BlockingRules
) -> BlockingScrew:
    frontal = PLANE[sense] is Projection.FRONTAL
    return BlockingScrew(
        fragment=fragment,
        side=CONCAVE[sense],
        direction=ScrewDirection.ANTEROPOSTERIOR if frontal else ScrewDirection.MEDIOLATERAL,
        depth_mm=depth_mm,
        from_osteotomy_mm=abs(depth_mm - nail.osteotomy_depth_mm),
        offset_mm=nail.radius_mm(depth_mm) + rules.diameter_mm / 2 + rules.clearance_mm,
        diameter_mm=rules.diameter_mm,
        drill_mm=rules.drill_mm,
    )


def _beyond_bone_mm(canal: CanalAlong, screw: BlockingScrew) -> float | None:
    """How far the screw's far edge stands outside the outer cortex; None without traced outer edges. [mm]"""
    left = canal.cortex_left_mm(screw.depth_mm, screw.offset_mm + screw.diameter_mm / 2)
    if left is None:
        return None
    return -float(left[1] if screw.side in POSITIVE_SIDES else left[0])


def _about(nail: NailInBone, fragment: Fragment) -> str:
    return f"{fragment} fragment of the {nail.bone}"


def _numbers(play: DriftPlay) -> tuple[Number, ...]:
    return (
        Number(name="gap on the concave side", value=play.gap_mm, unit="mm"),
        Number(name="rigid tilt without a screw", value=play.tilt_deg, unit="deg"),
        Number(name="rigid tilt with a screw", value=play.tilt_with_screw_deg, unit="deg"),
    )


def _not_needed(nail: NailInBone, play: DriftPlay, rules: BlockingRules) -> Finding:
    saved = play.tilt_deg - play.tilt_with_screw_deg
    return Finding(
        id="blocking-screw-not-needed",
        severity=Severity.NOTE,
        words=f"No blocking screw against {play.sense} in the {_about(nail, play.fragment)}: the nail lies "
        f"{max(play.gap_mm, 0.0):.1f} mm from the {CONCAVE[play.sense]} cortex there; a screw would save "
        f"{saved:.1f} deg of play.",
        next_step="Check the gap on the image intensifier after reaming.",
        numbers=_numbers(play),
        rule=f"A screw is considered above a {rules.gap_mm:g} mm gap when it saves {rules.worth_deg:g} deg.",
        source=rules.source,
    )


def _notches(nail: NailInBone, play: DriftPlay, rules: BlockingRules) -> Finding:
    return Finding(
        id="blocking-screw-notches-cortex",
        severity=Severity.NOTE,
        words=f"The blocking screw against {play.sense} in the {_about(nail, play.fragment)} has "
        f"{play.gap_mm:.1f} mm between nail and {CONCAVE[play.sense]} cortex for its {rules.diameter_mm:g} "
        "mm: it will cut into the inner cortex.",
        next_step="Drill it before reaming, or take a thinner screw.",
        numbers=_numbers(play),
        rule="A screw that does not fit between nail and cortex takes bone from the cortex.",
        source=RIGID_NAIL,
    )


def _no_room(nail: NailInBone, play: DriftPlay, outside_mm: float, rules: BlockingRules) -> Finding:
    return Finding(
        id="blocking-screw-no-room",
        severity=Severity.CAUTION,
        words=f"A blocking screw against {play.sense} in the {_about(nail, play.fragment)} would save "
        f"{play.tilt_deg - play.tilt_with_screw_deg:.1f} deg but has no room: it would stand "
        f"{outside_mm:.1f} mm outside the {CONCAVE[play.sense]} cortex.",
        next_step="Take a thinner screw, a thicker nail, or move the nail's line.",
        numbers=(*_numbers(play), Number(name="outside the cortex", value=outside_mm, unit="mm")),
        rule=f"A {rules.diameter_mm:g} mm screw must lie within the outer cortex.",
        source=RIGID_NAIL,
    )


def _no_level(nail: NailInBone, fragment: Fragment, sense: Sense, rules: BlockingRules) -> Finding:
    return Finding(
        id="blocking-screw-no-level",
        severity=Severity.CAUTION,
        words=f"No blocking screw against {sense} fits in the {_about(nail, fragment)}: between "
        f"{rules.min_to_osteotomy_mm:g} and {rules.max_to_osteotomy_mm:g} mm from the osteotomy every level "
        "is taken by locking screws or lies beyond the nail.",
        next_step="Move the osteotomy, choose a nail with other holes, or allow a greater distance.",
        rule="A blocking screw keeps clear of the osteotomy and of locking screws.",
        source=rules.source,
    )


def _slack(nail: NailInBone, depth_mm: float, sense: Sense, rules: BlockingRules) -> list[Finding]:
    """The thick part withdraws from the moving fragment; a screw beside the thin part alone holds less."""
    at_end = depth_mm + nail.lengthening_mm
    if at_end + rules.thick_beyond_mm <= nail.thick_length_mm or depth_mm > nail.thick_length_mm:
        return []
    slack = (nail.thick_diameter_mm - nail.thin_diameter_mm) / 2
    return [
        Finding(
            id="blocking-screw-ends-beside-rod",
            severity=Severity.CAUTION,
            words=f"The blocking screw against {sense} in the moving fragment of the {nail.bone} faces the "
            f"thin part from {max(nail.thick_length_mm - depth_mm, 0.0):.0f} mm of lengthening on, with "
            f"{slack:.1f} mm more play.",
            next_step="Move the screw nearer the osteotomy, or choose a longer nail.",
            numbers=(
                Number(name="extra play", value=slack, unit="mm"),
                Number(name="depth of the screw at full length", value=at_end, unit="mm"),
                Number(name="end of the thick part", value=nail.thick_length_mm, unit="mm"),
            ),
            rule="The thick part stays behind while the moving fragment slides over it.",
            source=RIGID_NAIL,
        )
    ]


def _left_out(nail: NailInBone, count: int, rules: BlockingRules) -> Finding:
    return Finding(
        id="blocking-screws-limited",
        severity=Severity.NOTE,
        words=f"{count} blocking screws would each save play in the {nail.bone}; the {rules.most} that save "
        "most are planned.",
        next_step="Raise the limit in the practice profile, or choose a thicker nail.",
        numbers=(Number(name="screws that would help", value=float(count), unit=""),),
        rule=f"At most {rules.most} blocking screws in one plan.",
        source=rules.source,
    )
