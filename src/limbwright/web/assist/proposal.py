"""What a snap proposes, and what is said where the film does not show it."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from limbwright.error import LimbwrightError
from limbwright.film.film import Mark
from limbwright.film.tracing import FilmPlate
from limbwright.finding import Finding
from limbwright.interop.plain import finding_plain
from limbwright.limb.landmark import Landmark
from limbwright.web.failure import said

POOR_SUPPORT = 0.6
"""Support below which a proposal is shown as a poor one; engineering judgement, as found on phantom films."""
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What was found near a click."""

    how: str
    """By what it was found."""
    words: str
    """What it is, in words."""
    support: float
    """How clearly the film shows it, 0 to 1."""
    sd_px: float
    """Standard uncertainty of each coordinate. [px]"""
    points_px: tuple[Point, ...]
    """Centre, point, or both ends of a line."""
    radius_px: float | None = None
    """Of a circle."""
    marks: Mapping[Landmark, Mark] = field(default_factory=dict)
    """For the film's record of this leg."""
    scale: Mapping[str, Any] | None = None
    """For the film's evidence of scale."""
    more: Mapping[str, Any] = field(default_factory=dict)
    """What only this kind tells."""

    @property
    def shape(self) -> dict[str, Any]:
        """What is drawn."""
        kind = "line" if len(self.points_px) > 1 else "point" if self.radius_px is None else "circle"
        return {
            "kind": kind,
            "points_px": [[round(x, 2), round(y, 2)] for x, y in self.points_px],
            "radius_px": None if self.radius_px is None else round(self.radius_px, 2),
        }


def mark_plain(mark: Mark) -> dict[str, Any]:
    """A mark as a case document has it."""
    plain: dict[str, Any] = {"x_px": round(mark.x_px, 3), "y_px": round(mark.y_px, 3)}
    if mark.sd_px is not None:
        plain["sd_px"] = round(mark.sd_px, 4)
    return {**plain, "provenance": mark.provenance.value}


def proposal_plain(
    what: str, found: Proposal, *, click_px: Point, at_px: Point, mm_per_px: float | None, plate: FilmPlate
) -> dict[str, Any]:
    """A proposal as it is answered."""
    return {
        "what": what,
        "how": found.how,
        "words": found.words,
        "marks": {landmark.value: mark_plain(mark) for landmark, mark in found.marks.items()},
        "scale": found.scale,
        "shape": found.shape,
        "support": round(found.support, 3),
        "poor": found.support < POOR_SUPPORT,
        "sd_px": round(found.sd_px, 3),
        "sd_mm": None if mm_per_px is None else round(found.sd_px * mm_per_px, 3),
        "moved_px": round(math.dist(click_px, at_px), 2),
        "findings": findings_plain(plate.findings),
        "refused": None,
        **found.more,
    }


def refusal_plain(what: str, error: LimbwrightError, plate: FilmPlate) -> dict[str, Any]:
    """A refusal as it is answered: the film does not show what was asked for."""
    return {
        "what": what,
        "how": None,
        "words": "",
        "marks": {},
        "scale": None,
        "shape": None,
        "support": None,
        "poor": False,
        "sd_px": None,
        "sd_mm": None,
        "moved_px": None,
        "findings": findings_plain(plate.findings),
        "refused": said(error),
    }


def findings_plain(findings: tuple[Finding, ...]) -> list[dict[str, Any]]:
    """Findings as they are answered."""
    return [finding_plain(finding) for finding in findings]
