"""A rough click becomes the place that the film shows."""

import math
from dataclasses import replace
from typing import Any

from limbwright.error import Contradiction, Missing, Refused
from limbwright.film.film import Mark, Provenance, ScaleEvidence
from limbwright.film.snap import find_ball, find_head, find_joint_line, find_nail, find_ticks, find_tip
from limbwright.limb.landmark import Landmark, plain_words
from limbwright.web.assist.asked import Snap
from limbwright.web.assist.landmarks import SNAPPINGS, How, Snapping
from limbwright.web.assist.mid_line import on_mid_line
from limbwright.web.assist.opened import OpenedFilm, record_plain
from limbwright.web.assist.proposal import Point, Proposal, proposal_plain, refusal_plain

FARTHEST_MM = 8.0
"""What lies farther from the click is something else; snaps are made for clicks up to 6 mm off. [mm]"""


def snap_answer(film: OpenedFilm, asked: Snap) -> dict[str, Any]:
    """What the film shows near the clicks; a refusal in words where it does not show it.

    Raises
    ------
    Missing
        When the question is incomplete: no side, no diameter, a landmark that cannot be snapped here.
    OutOfRange
        When a click lies outside the film.
    """
    _require_complete(film, asked)
    try:
        found = _landmark(film, asked) if asked.what == "landmark" else _scale(film, asked)
        if asked.side is not None:
            # Marks that cannot be true together are refused here, before they reach the case.
            film.film.with_marks(asked.side, {**film.film.marks(asked.side), **found.marks})
    except (Refused, Contradiction) as refusal:
        return refusal_plain(asked.what, refusal, film.detector)
    at = found.points_px[0]
    if asked.landmark is not None and asked.landmark in found.marks:
        mark = found.marks[asked.landmark]
        at = (mark.x_px, mark.y_px)
    return proposal_plain(
        asked.what,
        found,
        click_px=asked.clicks_px[0],
        at_px=at,
        mm_per_px=film.mm_per_px,
        plate=film.detector,
    )


def snap_kinds() -> dict[str, Any]:
    """What can be snapped, for a page."""
    return {
        "landmarks": {
            landmark.value: {
                "how": kind.how.value,
                "projections": [p.value for p in kind.projections],
                "with": [end.value for end in kind.ends if end is not landmark],
            }
            for landmark, kind in SNAPPINGS.items()
        },
        "other": ["calibration ball", "ruler", "nail"],
    }


def _require_complete(film: OpenedFilm, asked: Snap) -> None:
    needs = {"landmark": "side", "calibration ball": "diameter_mm", "nail": "diameter_mm"}.get(asked.what)
    if needs is not None and getattr(asked, needs) is None:
        raise Missing(f"{needs} is not given.", where=asked.what, next_step=f"Give {needs}.")
    if asked.what in {"ruler", "nail"} and len(asked.clicks_px) < 2:
        raise Missing(
            "one click, two are needed.", where=asked.what, next_step="Click on two places of it, apart."
        )
    if asked.what != "landmark":
        return
    kind = None if asked.landmark is None else SNAPPINGS.get(asked.landmark)
    if kind is None or film.film.projection not in kind.projections:
        name = "no landmark" if asked.landmark is None else f"the {plain_words(asked.landmark)}"
        raise Missing(
            f"{name} can be snapped on a {film.film.projection} film."
            if asked.landmark is None
            else f"{name} cannot be snapped on a {film.film.projection} film.",
            where="landmark",
            next_step="Mark it by hand; GET /api/films/snap-kinds lists what can be snapped.",
        )


def _landmark(film: OpenedFilm, asked: Snap) -> Proposal:
    landmark, side, click = asked.landmark, asked.side, asked.clicks_px[0]
    if landmark is None or side is None:  # _require_complete has refused this
        raise Missing("no landmark or no side is given.", where="landmark", next_step="Give both.")
    kind = SNAPPINGS[landmark]
    column_mm = film.detector.plate.column_mm
    match kind.how:
        case How.CIRCLE:
            head = find_head(film.detector.plate, click)
            mark = _near(film, click, head.mark(column_mm=column_mm), landmark)
            return _one(kind, landmark, mark, head.support, radius_px=head.radius_mm / column_mm)
        case How.TIP:
            tip = find_tip(film.detector.plate, click, points_up=kind.points_up)
            return _one(
                kind, landmark, _near(film, click, tip.mark(column_mm=column_mm), landmark), tip.support
            )
        case How.LINE:
            return _line(film, asked, kind, landmark)
        case How.MIDDLE_OF_A_LINE:
            return _middle(film, asked, kind, landmark)
        case How.MID_LINE:
            point, sd_px, support = on_mid_line(film, side=side, landmark=landmark, click_px=click)
            mark = Mark(x_px=point[0], y_px=point[1], sd_px=sd_px, provenance=Provenance.SNAPPED)
            return _one(kind, landmark, mark, support)


def _near(film: OpenedFilm, click_px: Point, mark: Mark, landmark: Landmark) -> Mark:
    """The mark, when it is what the click meant."""
    plate = film.detector.plate
    away_mm = math.hypot(
        (mark.x_px - click_px[0]) * plate.column_mm, (mark.y_px - click_px[1]) * plate.row_mm
    )
    if away_mm > FARTHEST_MM:
        raise Refused(
            f"what is seen lies {away_mm:.0f} mm from the click, expected at most {FARTHEST_MM:g} mm.",
            where=plain_words(landmark),
            next_step="Click nearer to it, or mark it by hand.",
        )
    return mark


def _one(
    kind: Snapping, landmark: Landmark, mark: Mark, support: float, *, radius_px: float | None = None
) -> Proposal:
    return Proposal(
        how=kind.how.value,
        words=f"{plain_words(landmark)}, support {support:.2f}",
        support=support,
        sd_px=mark.sd_px or 0.0,
        points_px=((mark.x_px, mark.y_px),),
        radius_px=radius_px,
        marks={landmark: mark},
    )


def _line(film: OpenedFilm, asked: Snap, kind: Snapping, landmark: Landmark) -> Proposal:
    """A joint line from this end and the other, which is marked already or clicked second."""
    partner = next(end for end in kind.ends if end is not landmark)
    other = _second_click(asked) or _marked(film, asked, partner)
    if kind.line is None or other is None:
        raise Refused(
            f"the {plain_words(partner)} is not marked; a line is found from both its ends.",
            where=plain_words(landmark),
            next_step="Mark the other end; both are then moved onto the line.",
        )
    found = find_joint_line(
        film.detector.plate, asked.clicks_px[0], other, kind=kind.line, projection=film.film.projection
    )
    mine, theirs = found.marks(column_mm=film.detector.plate.column_mm)
    return Proposal(
        how=kind.how.value,
        words=f"line of the {kind.line}, support {found.support:.2f}",
        support=found.support,
        sd_px=mine.sd_px or 0.0,
        points_px=(found.first_px, found.second_px),
        marks={landmark: mine, partner: theirs},
    )


def _middle(film: OpenedFilm, asked: Snap, kind: Snapping, landmark: Landmark) -> Proposal:
    """Halfway between both ends of a joint line, found again from where they are marked."""
    first, second = (_marked(film, asked, end) for end in kind.ends)
    if kind.line is None or first is None or second is None:
        raise Refused(
            f"the line of the {kind.line} is not marked.",
            where=plain_words(landmark),
            next_step="Mark both ends of the line first, or mark the centre by hand.",
        )
    found = find_joint_line(film.detector.plate, first, second, kind=kind.line)
    mark = found.middle_mark(column_mm=film.detector.plate.column_mm)
    return Proposal(
        how=kind.how.value,
        words=f"{plain_words(landmark)}, halfway along the line of the {kind.line}, "
        f"support {found.support:.2f}",
        support=found.support,
        sd_px=mark.sd_px or 0.0,
        points_px=((mark.x_px, mark.y_px),),
        marks={landmark: mark},
    )


def _second_click(asked: Snap) -> Point | None:
    return asked.clicks_px[1] if len(asked.clicks_px) > 1 else None


def _marked(film: OpenedFilm, asked: Snap, landmark: Landmark) -> Point | None:
    mark = None if asked.side is None else film.film.marks(asked.side).get(landmark)
    return None if mark is None else (mark.x_px, mark.y_px)


def _scale(film: OpenedFilm, asked: Snap) -> Proposal:
    """A ball, a ruler or a nail, as evidence of the film's scale."""
    plate, evidence = film.detector.plate, film.film.scale
    if asked.what == "calibration ball":
        diameter_mm = asked.diameter_mm or 0.0
        ball = find_ball(plate, asked.clicks_px[0], diameter_mm=diameter_mm, development=film.development)
        kept = replace(evidence, ball=ball.as_evidence(diameter_mm=diameter_mm))
        return Proposal(
            how="circle",
            words=f"calibration ball of {diameter_mm:g} mm, support {ball.support:.2f}",
            support=ball.support,
            sd_px=ball.centre_sd_px,
            points_px=((ball.x_px, ball.y_px),),
            radius_px=ball.radius_px,
            scale=_evidence_plain(film, kept, "ball"),
            more={"mm_per_px": round(diameter_mm / (2 * ball.radius_px), 6), "blur_mm": ball.blur_mm},
        )
    first, second = asked.clicks_px
    if asked.what == "ruler":
        ticks = find_ticks(plate, first, second, interval_mm=asked.interval_mm)
        return Proposal(
            how="ticks",
            words=f"{ticks.intervals} intervals of {asked.interval_mm:g} mm, support {ticks.support:.2f}",
            support=ticks.support,
            sd_px=ticks.end_sd_px,
            points_px=(ticks.first_px, ticks.last_px),
            scale=_evidence_plain(film, replace(evidence, ruler=ticks.as_evidence()), "ruler"),
        )
    diameter_mm = asked.diameter_mm or 0.0
    nail = find_nail(plate, first, second)
    kept = replace(evidence, nail=nail.as_evidence(diameter_mm=diameter_mm))
    return Proposal(
        how="edges",
        words=f"segment of a nail, {nail.width_px:.1f} px wide, support {nail.support:.2f}",
        support=nail.support,
        sd_px=nail.width_sd_px,
        points_px=(nail.upper_px, nail.lower_px),
        scale=_evidence_plain(film, kept, "nail"),
    )


def _evidence_plain(film: OpenedFilm, evidence: ScaleEvidence, part: str) -> dict[str, Any]:
    """One part of a film's evidence as a case document has it."""
    return {part: record_plain(replace(film.film, scale=evidence))["scale"][part]}
