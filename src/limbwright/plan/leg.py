"""One leg in three dimensions, built from its frontal and (where there is one) sagittal view.

Frame: columns (anterior, proximal, lateral) in mm, origin at the tibial knee centre of each film; side
resolved, so that a left leg has the numbers of a right one. The two films are laid together by the level of
the knee. What one film does not show of a point is taken from the bone's axis on the other film at that
level; without a sagittal film every anterior coordinate is zero and sagittal questions are refused by name.

A landmark marked on both films is kept twice, once as each film saw it: projecting the model back gives
exactly the views it was made of, and moved fragments go through exactly the same measurements.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import Missing, Refused
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark, bone_of, plain_words
from limbwright.limb.view import Border, Join, Spot, Surface, View, Wall
from limbwright.plan.motion import ANTERIOR, LATERAL, PROXIMAL, STAY, Floats, Motion
from limbwright.quantity import Value

SHAFT_POINTS: Mapping[Bone, tuple[Landmark, ...]] = {
    Bone.FEMUR: (
        Landmark.FEMUR_PROXIMAL_SHAFT_UPPER,
        Landmark.FEMUR_PROXIMAL_SHAFT_LOWER,
        Landmark.FEMUR_MIDDLE_SHAFT_UPPER,
        Landmark.FEMUR_MIDDLE_SHAFT_LOWER,
        Landmark.FEMUR_DISTAL_SHAFT_UPPER,
        Landmark.FEMUR_DISTAL_SHAFT_LOWER,
    ),
    Bone.TIBIA: (
        Landmark.TIBIA_PROXIMAL_SHAFT_UPPER,
        Landmark.TIBIA_PROXIMAL_SHAFT_LOWER,
        Landmark.TIBIA_MIDDLE_SHAFT_UPPER,
        Landmark.TIBIA_MIDDLE_SHAFT_LOWER,
        Landmark.TIBIA_DISTAL_SHAFT_UPPER,
        Landmark.TIBIA_DISTAL_SHAFT_LOWER,
    ),
}
JOINT_CENTRES: Mapping[Bone, tuple[Landmark, Landmark]] = {
    Bone.FEMUR: (Landmark.FEMORAL_HEAD_CENTRE, Landmark.FEMUR_KNEE_CENTRE),
    Bone.TIBIA: (Landmark.TIBIA_KNEE_CENTRE, Landmark.ANKLE_CENTRE),
}
_ACROSS = {Projection.FRONTAL: LATERAL, Projection.SAGITTAL: ANTERIOR}


@dataclass(frozen=True, slots=True, kw_only=True)
class LegPoint(Value):
    """A landmark in the leg frame, as one film saw it."""

    anterior_mm: float
    """Anterior + [mm]."""
    proximal_mm: float
    """Toward the head + [mm]."""
    lateral_mm: float
    """Away from the midline + [mm]."""
    sd_mm: float
    """Standard uncertainty of each coordinate the film shows [mm]."""
    patch: str = ""
    """Film it was read from."""

    def array(self) -> Floats:
        """Coordinates as (anterior, proximal, lateral), (3,). [mm]"""
        return np.array([self.anterior_mm, self.proximal_mm, self.lateral_mm])


@dataclass(frozen=True, slots=True, kw_only=True)
class LegWall(Value):
    """A traced cortical edge in the leg frame, from proximal to distal."""

    projection: Projection
    """Film it was traced on."""
    bone: Bone
    """Bone it belongs to."""
    surface: Surface
    """Inner (canal) or outer edge."""
    border: Border
    """Which side of the bone."""
    anterior_mm: tuple[float, ...]
    """Anterior coordinates [mm]."""
    proximal_mm: tuple[float, ...]
    """Proximal coordinates [mm]."""
    lateral_mm: tuple[float, ...]
    """Lateral coordinates [mm]."""
    sd_mm: float
    """Standard uncertainty across [mm]."""
    fragment: Fragment | None = None
    """Fragment it belongs to once the bone is cut."""

    def array(self) -> Floats:
        """Points, (n, 3), columns anterior, proximal, lateral. [mm]"""
        return np.column_stack([self.anterior_mm, self.proximal_mm, self.lateral_mm])

    def with_points(self, points_mm: Floats) -> "LegWall":
        """A copy with other points, (n, 3). [mm]"""
        return replace(
            self,
            anterior_mm=tuple(points_mm[:, ANTERIOR].tolist()),
            proximal_mm=tuple(points_mm[:, PROXIMAL].tolist()),
            lateral_mm=tuple(points_mm[:, LATERAL].tolist()),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LegModel(Value):
    """One leg, or some fragments of one, in three dimensions."""

    side: Side
    """Side of the body; the geometry does not depend on it."""
    frontal: Mapping[Landmark, LegPoint]
    """Landmarks of the frontal film."""
    sagittal: Mapping[Landmark, LegPoint]
    """Landmarks of the sagittal film; empty without one."""
    walls: tuple[LegWall, ...]
    """Cortical edges of both films."""
    frontal_scale_sd: float
    """Relative standard uncertainty of the frontal film's scale."""
    sagittal_scale_sd: float | None
    """The same of the sagittal film; None without one."""
    frontal_joins: tuple[Join, ...] = ()
    """How frontal films were laid over each other."""
    sagittal_joins: tuple[Join, ...] = ()
    """How sagittal films were laid over each other."""

    @property
    def has_sagittal(self) -> bool:
        """Whether the sagittal plane is known."""
        return self.sagittal_scale_sd is not None

    def points(self, projection: Projection) -> Mapping[Landmark, LegPoint]:
        """Landmarks as one film saw them."""
        if projection is Projection.SAGITTAL:
            self.require_sagittal("a sagittal view")
            return self.sagittal
        return self.frontal

    def require_sagittal(self, purpose: str) -> None:
        """Refuse a question about the sagittal plane when there is no sagittal film."""
        if not self.has_sagittal:
            raise Missing(
                f"there is no sagittal film, needed for {purpose}.",
                where=f"{self.side} leg",
                next_step="Add a scaled sagittal film with its landmarks, or read the frontal plane only.",
            )

    def place_mm(self, landmark: Landmark) -> Floats:
        """Where a landmark is, (3,): as the frontal film saw it, else as the sagittal one did. [mm]"""
        point = self.frontal.get(landmark) or self.sagittal.get(landmark)
        if point is None:
            raise Missing(
                f"landmark '{plain_words(landmark)}' is marked on no film.",
                where=f"{self.side} leg",
                next_step="Mark it; the plan needs it.",
            )
        return point.array()

    def has(self, *landmarks: Landmark) -> bool:
        """Whether all of these landmarks are marked on at least one film."""
        return all(landmark in self.frontal or landmark in self.sagittal for landmark in landmarks)

    def moved(self, motion: Motion) -> "LegModel":
        """A copy moved rigidly; the leg itself when it stays where it is."""
        if motion is STAY:
            return self
        return replace(
            self,
            frontal=_moved(self.frontal, motion),
            sagittal=_moved(self.sagittal, motion),
            walls=tuple(wall.with_points(motion.moved(wall.array())) for wall in self.walls),
        )

    def view(self, projection: Projection) -> View:
        """What a film of this leg would show, in the limb plane frame.

        Raises
        ------
        Missing
            For the sagittal plane when there is no sagittal film.
        """
        across = _ACROSS[projection]
        points = self.points(projection)
        scale_sd = self.frontal_scale_sd if projection is Projection.FRONTAL else self.sagittal_scale_sd
        return View(
            side=self.side,
            projection=projection,
            spots={
                landmark: Spot(
                    across_mm=float(p.array()[across]),
                    proximal_mm=p.proximal_mm,
                    sd_mm=p.sd_mm,
                    patch=p.patch,
                )
                for landmark, p in points.items()
            },
            walls=tuple(
                Wall(
                    bone=w.bone,
                    surface=w.surface,
                    border=w.border,
                    across_mm=w.lateral_mm if across == LATERAL else w.anterior_mm,
                    proximal_mm=w.proximal_mm,
                    sd_mm=w.sd_mm,
                )
                for w in self.walls
                if w.projection is projection
            ),
            scaled=True,
            scale_relative_sd=scale_sd or 0.0,
            joins=self.frontal_joins if projection is Projection.FRONTAL else self.sagittal_joins,
        )

    def views(self) -> tuple[View, View | None]:
        """Frontal and, where known, sagittal view."""
        return self.view(Projection.FRONTAL), self.view(Projection.SAGITTAL) if self.has_sagittal else None


def leg_model(frontal: View, sagittal: View | None) -> LegModel:
    """Lay the views of one leg together.

    Parameters
    ----------
    frontal, sagittal : View
        Scaled views of one leg; the sagittal one may be absent.

    Raises
    ------
    Refused
        If a view has no scale, or the views are of different sides or of the wrong projection.
    Missing
        If the knee centre, by which films are laid together, is not marked on a film.
    """
    for view, wanted in ((frontal, Projection.FRONTAL), (sagittal, Projection.SAGITTAL)):
        if view is None:
            continue
        where = f"{view.side} leg, {view.projection} film"
        if view.projection is not wanted:
            raise Refused(
                f"a {view.projection} view was given as the {wanted} one.",
                where=where,
                next_step="Check the projection of the films.",
            )
        if not view.scaled:
            raise Refused(
                "the film has no scale, so nothing can be planned in millimetres.",
                where=where,
                next_step="Mark a calibration ball, ruler or nail on it, or give its magnification.",
            )
        if view.side is not frontal.side:
            raise Refused(
                f"the frontal view shows the {frontal.side} leg, the sagittal one the {view.side} leg.",
                where=where,
                next_step="Choose two films of the same leg.",
            )
    front = _registered(frontal)
    side = _registered(sagittal) if sagittal is not None else None
    return LegModel(
        side=frontal.side,
        frontal=_points(front, side),
        sagittal=_points(side, front) if side is not None else {},
        walls=_walls(front, side) + (_walls(side, front) if side is not None else ()),
        frontal_scale_sd=frontal.scale_relative_sd,
        sagittal_scale_sd=sagittal.scale_relative_sd if sagittal is not None else None,
        frontal_joins=front.joins,
        sagittal_joins=side.joins if side is not None else (),
    )


def bone_axis(view: View, bone: Bone) -> tuple[Floats, Floats]:
    """A bone's axis on one film: levels rising and the across coordinate there, each (n,). [mm]

    It runs through the mid-diaphyseal points; of the joint centres it takes those that lie on the bone's
    axis (knee, ankle), and the femoral head only when no shaft point is marked.
    """
    centres = JOINT_CENTRES[bone]
    used = [p for p in SHAFT_POINTS[bone] if p in view.spots]
    used += [c for c in centres if c in view.spots and (c is not Landmark.FEMORAL_HEAD_CENTRE or not used)]
    if not used:
        return np.zeros(1), np.zeros(1)
    spots = sorted((view.spots[u] for u in used), key=lambda s: s.proximal_mm)
    return np.array([s.proximal_mm for s in spots]), np.array([s.across_mm for s in spots])


def _moved(points: Mapping[Landmark, LegPoint], motion: Motion) -> dict[Landmark, LegPoint]:
    if not points:
        return {}
    places = motion.moved(np.array([p.array() for p in points.values()]))
    return {
        landmark: replace(p, anterior_mm=float(q[0]), proximal_mm=float(q[1]), lateral_mm=float(q[2]))
        for (landmark, p), q in zip(points.items(), places, strict=True)
    }


def _registered(view: View) -> View:
    """The view with its origin at the knee centre; a film apart (femur film) at its own knee centre."""
    origins: dict[str, tuple[float, float]] = {}
    for centre in (Landmark.TIBIA_KNEE_CENTRE, Landmark.FEMUR_KNEE_CENTRE):
        if centre in view.spots:
            spot = view.spots[centre]
            origins.setdefault(view.frame_of(centre), (spot.across_mm, spot.proximal_mm))

    def origin(landmark: Landmark) -> tuple[float, float]:
        try:
            return origins[view.frame_of(landmark)]
        except KeyError:
            raise Missing(
                f"no knee centre is marked on the film that shows '{plain_words(landmark)}'.",
                where=f"{view.side} leg, {view.projection} film",
                next_step="Mark the tibial (or femoral) knee centre: the films are laid together by it.",
            ) from None

    spots = {
        landmark: replace(
            spot,
            across_mm=spot.across_mm - origin(landmark)[0],
            proximal_mm=spot.proximal_mm - origin(landmark)[1],
        )
        for landmark, spot in view.spots.items()
    }
    walls = []
    for wall in view.walls:
        own = [landmark for landmark in view.spots if bone_of(landmark) is wall.bone]
        at = origin(own[0]) if own else origin(Landmark.TIBIA_KNEE_CENTRE)
        walls.append(
            replace(
                wall,
                across_mm=tuple(a - at[0] for a in wall.across_mm),
                proximal_mm=tuple(p - at[1] for p in wall.proximal_mm),
            )
        )
    joins = tuple(
        replace(
            join,
            pivot_across_mm=join.pivot_across_mm - origins[join.onto][0],
            pivot_proximal_mm=join.pivot_proximal_mm - origins[join.onto][1],
        )
        if join.onto in origins
        else join
        for join in view.joins
    )
    return replace(view, spots=spots, walls=tuple(walls), joins=joins)


def _depth(levels_mm: Floats, bone: Bone, other: View | None) -> Floats:
    """What the other film says of the bone's axis at these levels; zero without another film. [mm]"""
    if other is None:
        return np.zeros_like(levels_mm)
    rising, across = bone_axis(other, Bone.TIBIA if bone is Bone.FIBULA else bone)
    depth: Floats = np.interp(levels_mm, rising, across)
    return depth


def _points(view: View, other: View | None) -> dict[Landmark, LegPoint]:
    points = {}
    for landmark, spot in view.spots.items():
        bone = bone_of(landmark)
        same = other.spots.get(landmark) if other is not None else None
        if same is not None and landmark not in SHAFT_POINTS.get(bone, ()):
            depth = same.across_mm  # a joint centre is one point; shaft points sit at other levels per film
        else:
            depth = float(_depth(np.array([spot.proximal_mm]), bone, other)[0])
        lateral, anterior = spot.across_mm, depth
        if view.projection is Projection.SAGITTAL:
            lateral, anterior = anterior, lateral
        points[landmark] = LegPoint(
            anterior_mm=anterior,
            proximal_mm=spot.proximal_mm,
            lateral_mm=lateral,
            sd_mm=spot.sd_mm,
            patch=spot.patch,
        )
    return points


def _walls(view: View, other: View | None) -> tuple[LegWall, ...]:
    walls = []
    for wall in view.walls:
        levels = np.array(wall.proximal_mm)
        depth = tuple(_depth(levels, wall.bone, other).tolist())
        frontal = view.projection is Projection.FRONTAL
        walls.append(
            LegWall(
                projection=view.projection,
                bone=wall.bone,
                surface=wall.surface,
                border=wall.border,
                anterior_mm=depth if frontal else wall.across_mm,
                proximal_mm=wall.proximal_mm,
                lateral_mm=wall.across_mm if frontal else depth,
                sd_mm=wall.sd_mm,
            )
        )
    return tuple(walls)
