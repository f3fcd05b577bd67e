"""Blocking screws: where the nail leaves a gap on the side a fragment drifts into, and what closes it.

A screw stands beside the nail on the concave side of the expected drift, near the cut. It is planned where
the gap there is wide enough to matter; where the nail lies on that cortex none is planned and the number is
said. Sides and screw directions: Muthusamy et al., The use of blocking screws with internal lengthening nail
and reverse rule of thumb, Strategies Trauma Limb Reconstr 11(3), 2016, table 1 (read).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Fragment, Projection
from limbwright.limb.view import Border
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import BlockingScrew, ScrewDirection
from limbwright.plan.drift import CONCAVE, PLANE, fragment_tilt_deg
from limbwright.plan.nail_in_bone import BlockingRules, NailInBone
from limbwright.published import Source, Status
from limbwright.quantity import Sense, Value

RIGID_NAIL = Source(text="rigid straight nail between two contacts of a fragment", status=Status.DERIVED)
Against = Callable[[Fragment, Border, float], str]
"""Why a screw cannot stand in a fragment, on a side, at a depth along the nail [mm]; empty where it can."""
POSITIVE_SIDES = frozenset({Border.LATERAL, Border.ANTERIOR})


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


def free_levels_mm(
    nail: NailInBone, fragment: Fragment, rules: BlockingRules, beside: Sequence[float] = ()
) -> tuple[float, ...]:
    """Levels for a blocking screw in a fragment that are clear of other screws, nearest the cut first. [mm]

    Parameters
    ----------
    beside : sequence of float
        Depths of blocking screws already placed; one driven across another at its level would meet it. [mm]
    """
    sign, spread = nail.sign(fragment), rules.from_lock_mm(nail.hole_diameter_mm)
    step = 1.0
    away = np.arange(rules.min_to_osteotomy_mm, rules.max_to_osteotomy_mm + step / 2, step)
    return tuple(
        depth
        for depth in (nail.osteotomy_depth_mm + sign * away).tolist()
        if 0 < depth < nail.length_mm
        and all(abs(depth - hole) >= spread for hole in nail.hole_depths_mm)
        and all(abs(depth - other) >= rules.apart_mm for other in beside)
    )


def screw_depth_mm(nail: NailInBone, fragment: Fragment, rules: BlockingRules) -> float | None:
    """The free level nearest the cut; None where the allowed stretch has none. [mm]"""
    return next(iter(free_levels_mm(nail, fragment, rules)), None)


def blocking_plan(
    *,
    nail: NailInBone,
    canals: tuple[CanalAlong, ...],
    senses: tuple[Sense, ...],
    rules: BlockingRules,
    against: Against,
) -> BlockingPlan:
    """Blocking screws against the expected drift, in both fragments.

    Parameters
    ----------
    canals : tuple of CanalAlong
        Traced canals along the nail's line; a plane or fragment that is not there gets no screw.
    senses : tuple of Sense
        Expected directions of drift, one per plane.
    against : callable
        What bars a screw from a place: caution zones, hardware, no room in the bone. The next level that is
        not barred is taken instead where it still saves enough.
    """
    plays: list[DriftPlay] = []
    wanted: list[tuple[float, BlockingScrew]] = []
    findings: list[Finding] = []
    places = [(sense, canal) for sense in senses for canal in canals if canal.projection is PLANE[sense]]
    # The screw that saves most takes the nearest level; one across it in the same fragment goes beyond it.
    for sense, canal in sorted(places, key=lambda place: -_saved_nearest(nail, place[0], place[1], rules)):
        taken = [screw.depth_mm for _saved, screw in wanted if screw.fragment is canal.fragment]
        levels = free_levels_mm(nail, canal.fragment, rules, taken)
        if not levels:
            findings.append(_no_level(nail, canal.fragment, sense, rules))
            continue
        play = play_toward(nail, canal, sense, levels[0], rules)
        if not _earns(play, rules):
            plays.append(play)
            findings.append(_not_needed(nail, play, rules))
            continue
        barred = against(canal.fragment, CONCAVE[sense], levels[0])
        if barred:
            instead = _instead(nail, canal, sense, levels=levels[1:], rules=rules, against=against)
            findings.append(_barred(nail, play, (levels[0], instead), barred, rules))
            if instead is None:
                plays.append(play)
                continue
            depth = instead
            play = play_toward(nail, canal, sense, depth, rules)
        else:
            depth = levels[0]
        plays.append(play)
        screw = _screw(nail, canal.fragment, sense, depth, rules)
        saved = play.tilt_deg - play.tilt_with_screw_deg
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


def _earns(play: DriftPlay, rules: BlockingRules) -> bool:
    """Whether the gap is wide enough and a screw saves enough."""
    return play.gap_mm > rules.gap_mm and play.tilt_deg - play.tilt_with_screw_deg >= rules.worth_deg


def _instead(
    nail: NailInBone,
    canal: CanalAlong,
    sense: Sense,
    *,
    levels: Sequence[float],
    rules: BlockingRules,
    against: Against,
) -> float | None:
    """The nearest level that is not barred, where a screw earns its place there too. [mm]"""
    free = (d for d in levels if not against(canal.fragment, CONCAVE[sense], d))
    depth = next(free, None)
    if depth is None or not _earns(play_toward(nail, canal, sense, depth, rules), rules):
        return None
    return depth


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


def _barred(
    nail: NailInBone, play: DriftPlay, levels: tuple[float, float | None], reason: str, rules: BlockingRules
) -> Finding:
    """A place the rule would have taken: depths of the barred one and of the one taken instead."""
    barred, instead = (None if d is None else abs(d - nail.osteotomy_depth_mm) for d in levels)
    if instead is None:
        taken = (
            f"No other level from {rules.min_to_osteotomy_mm:g} to {rules.max_to_osteotomy_mm:g} mm will do, "
            "and none is planned."
        )
    else:
        taken = f"It is planned {instead:.0f} mm from the osteotomy instead."
    return Finding(
        id="blocking-screw-barred",
        severity=Severity.CAUTION if instead is None else Severity.NOTE,
        words=f"A blocking screw against {play.sense} in the {_about(nail, play.fragment)}, on the "
        f"{CONCAVE[play.sense]} side, would save {play.tilt_deg - play.tilt_with_screw_deg:.1f} deg but "
        f"cannot stand {barred:.0f} mm from the osteotomy: {reason}. {taken}",
        next_step="Take a thicker nail or a thinner screw, move the osteotomy or the nail's line, or watch "
        "this angle on every film."
        if instead is None
        else "Mark the level before draping, and check it on the image intensifier.",
        numbers=(
            *_numbers(play),
            Number(name="barred level, from the osteotomy", value=float(barred or 0.0), unit="mm"),
        ),
        rule="A blocking screw keeps clear of caution zones, of hardware and locking screws, stays within "
        f"the outer cortex, and cuts at most {rules.notch_mm:g} mm into the inner one.",
        source=rules.source,
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
