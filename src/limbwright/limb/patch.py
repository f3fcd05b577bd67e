"""Several films of one leg laid over each other by the landmarks they share.

Films that share two or more landmarks are joined by the rigid motion that brings these together (least
squares); the uncertainty of that fit travels with the view as a `Join`. Films that do not are kept as
separate patches, and nothing is measured across them.
"""

import math
from dataclasses import dataclass, replace

from limbwright.error import Contradiction, Missing
from limbwright.finding import Finding, Number, Severity
from limbwright.limb.landmark import Landmark, bone_of, plain_words
from limbwright.limb.view import Join, Spot, View, Wall
from limbwright.published import Source, Status
from limbwright.quantity import Value

_SHORTEST_BASE_MM = 10.0  # two marks closer than this say nothing about the turn between two films
_DERIVED = Source(text="rigid fit of two point sets, least squares", status=Status.DERIVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly(Value):
    """One view made from all films of one leg in one projection."""

    view: View
    """The view; landmarks keep the name of their film as patch."""
    findings: tuple[Finding, ...]
    """Films that could not be joined, or that disagree."""

    placements: tuple["Placement", ...] = ()
    """Where each film that was moved came to lie; a film without an entry was not moved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement(Value):
    """Where a film lies in the frame it was joined onto: stretched, turned, then shifted."""

    patch: str
    """Name of the film."""
    stretch: float
    """1 for films with scale."""
    turn_deg: float
    """Turn from across + toward proximal + [deg]."""
    across_mm: float
    """Shift across [mm]."""
    proximal_mm: float
    """Shift proximal [mm]."""

    def point(self, across_mm: float, proximal_mm: float) -> tuple[float, float]:
        """A point of the film, in the joined frame [mm]."""
        cos, sin = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return (
            self.stretch * (cos * across_mm - sin * proximal_mm) + self.across_mm,
            self.stretch * (sin * across_mm + cos * proximal_mm) + self.proximal_mm,
        )

    def film_point(self, across_mm: float, proximal_mm: float) -> tuple[float, float]:
        """A point of the joined frame, back on the film [mm]."""
        cos, sin = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        x, y = (across_mm - self.across_mm) / self.stretch, (proximal_mm - self.proximal_mm) / self.stretch
        return cos * x + sin * y, -sin * x + cos * y

    def spot(self, spot: Spot) -> Spot:
        """A landmark of the film, in the joined frame."""
        across, proximal = self.point(spot.across_mm, spot.proximal_mm)
        return replace(spot, across_mm=across, proximal_mm=proximal, sd_mm=spot.sd_mm * self.stretch)

    def wall(self, wall: Wall) -> Wall:
        """A cortical edge of the film, in the joined frame."""
        points = [self.point(a, p) for a, p in zip(wall.across_mm, wall.proximal_mm, strict=True)]
        return replace(wall, across_mm=tuple(p[0] for p in points), proximal_mm=tuple(p[1] for p in points))


def assembled(views: tuple[View, ...]) -> Assembly:
    """One view from the films of one leg in one projection.

    Parameters
    ----------
    views : tuple of View
        One per film, each with one patch name of its own.

    Returns
    -------
    Assembly
        A landmark marked on several films is kept from the film that shows most of its bone. Scaled films
        are joined rigidly; when one of them has no scale the fit may also stretch, angles stay right and
        the whole view has no scale.

    Raises
    ------
    Missing
        If there is no film.
    Contradiction
        If the films are of different legs or projections.
    """
    if not views:
        raise Missing("no film was given.", where="films of one leg", next_step="Add a film.")
    if len({(view.side, view.projection) for view in views}) > 1:
        raise Contradiction(
            "films of different sides or projections were given as one leg.",
            where="films of one leg",
            next_step="Check side and projection of each film.",
        )
    scaled = all(view.scaled for view in views)
    # The film that shows most gives the frame, and with it the vertical.
    first, *waiting = sorted(views, key=lambda view: -len(view.spots))
    placed = [first]
    joins: list[Join] = []
    placements: list[Placement] = []
    findings: list[Finding] = []
    while waiting:
        pair = next(((a, b) for b in waiting for a in placed if _joinable(a, b)), None)
        if pair is None:
            placed.extend(waiting)
            findings.extend(_apart(view) for view in waiting)
            break
        fixed, moving = pair
        fit, join, misfit, expected = _fitted(fixed, moving, scaled=scaled)
        if misfit > 3 * expected:
            findings.append(_disagreement(fixed, moving, misfit, expected))
        waiting.remove(moving)
        placed.append(
            replace(
                moving,
                spots={k: fit.spot(s) for k, s in moving.spots.items()},
                walls=tuple(fit.wall(wall) for wall in moving.walls),
            )
        )
        joins.append(join)
        placements.append(fit)
    return Assembly(
        view=_merged(placed, tuple(joins), scaled=scaled),
        findings=tuple(findings),
        placements=tuple(placements),
    )


def _shared(a: View, b: View) -> tuple[Landmark, ...]:
    return tuple(landmark for landmark in a.spots if landmark in b.spots)


def _joinable(a: View, b: View) -> bool:
    points = [a.spots[landmark] for landmark in _shared(a, b)]
    return any(
        math.hypot(p.across_mm - q.across_mm, p.proximal_mm - q.proximal_mm) > _SHORTEST_BASE_MM
        for p in points
        for q in points
    )


def _fitted(fixed: View, moving: View, *, scaled: bool) -> tuple[Placement, Join, float, float]:
    """Least-squares motion of `moving` onto `fixed`, its join, root-mean-square misfit, expected misfit."""
    pairs = [(fixed.spots[k], moving.spots[k]) for k in _shared(fixed, moving)]
    n = len(pairs)
    fx, fy = sum(f.across_mm for f, _ in pairs) / n, sum(f.proximal_mm for f, _ in pairs) / n
    mx, my = sum(m.across_mm for _, m in pairs) / n, sum(m.proximal_mm for _, m in pairs) / n
    dot = cross = spread = reach = turn_variance = shift_variance = 0.0
    for f, m in pairs:
        ax, ay, bx, by = m.across_mm - mx, m.proximal_mm - my, f.across_mm - fx, f.proximal_mm - fy
        variance = f.sd_mm**2 + m.sd_mm**2
        dot += ax * bx + ay * by
        cross += ax * by - ay * bx
        spread += ax**2 + ay**2
        reach += bx**2 + by**2
        turn_variance += (bx**2 + by**2) * variance
        shift_variance += variance / n**2
    angle = math.atan2(cross, dot)
    scale = 1.0 if scaled else math.sqrt(reach / spread)
    cos, sin = math.cos(angle), math.sin(angle)
    fit = Placement(
        patch=_patch(moving),
        stretch=scale,
        turn_deg=math.degrees(angle),
        across_mm=fx - scale * (cos * mx - sin * my),
        proximal_mm=fy - scale * (sin * mx + cos * my),
    )
    misfit = 0.0
    for f, m in pairs:
        x, y = fit.point(m.across_mm, m.proximal_mm)
        misfit += ((x - f.across_mm) ** 2 + (y - f.proximal_mm) ** 2) / n
    join = Join(
        patch=_patch(moving),
        onto=_patch(fixed),
        pivot_across_mm=fx,
        pivot_proximal_mm=fy,
        rotation_sd_deg=math.degrees(math.sqrt(turn_variance) / reach),
        shift_sd_mm=math.sqrt(shift_variance),
    )
    return fit, join, math.sqrt(misfit), math.sqrt(2 * n * shift_variance)


def _patch(view: View) -> str:
    return next((spot.patch for spot in view.spots.values()), "")


def _merged(views: list[View], joins: tuple[Join, ...], *, scaled: bool) -> View:
    spots: dict[Landmark, Spot] = {}
    for landmark in Landmark:
        showing = [view for view in views if landmark in view.spots]
        if showing:
            best = max(showing, key=lambda v: sum(bone_of(k) is bone_of(landmark) for k in v.spots))
            spots[landmark] = best.spots[landmark]
    return replace(
        views[0],
        spots=spots,
        walls=tuple(wall for view in views for wall in view.walls),
        scaled=scaled,
        scale_relative_sd=max(view.scale_relative_sd for view in views) if scaled else 0.0,
        joins=joins,
    )


def _apart(view: View) -> Finding:
    return Finding(
        id="films-not-joined",
        severity=Severity.NOTE,
        words=(
            f"Film '{_patch(view)}' shares fewer than two landmarks with the other {view.projection} films "
            f"of the {view.side} leg: bone angles are measured on each film, nothing across them."
        ),
        next_step="Mark two of the condyles, plateau edges or knee centres on both films.",
        rule="Two films are joined by two or more landmarks marked on both.",
        source=_DERIVED,
    )


def _disagreement(fixed: View, moving: View, misfit: float, expected: float) -> Finding:
    names = ", ".join(plain_words(landmark) for landmark in _shared(fixed, moving))
    return Finding(
        id="films-joined-badly",
        severity=Severity.CAUTION,
        words=(
            f"The landmarks shared by films '{_patch(fixed)}' and '{_patch(moving)}' ({names}) fit each "
            f"other only to {misfit:.1f} mm where marking explains {expected:.1f} mm."
        ),
        next_step="Check these landmarks and the scale of both films.",
        numbers=(
            Number(name="misfit", value=misfit, unit="mm"),
            Number(name="expected misfit", value=expected, unit="mm"),
        ),
        rule="A misfit above three times the expected one is reported.",
        source=_DERIVED,
    )
