"""A bone plan as the mechanical model takes it: nail, canals of both fragments, locking and blocking screws.

The canal is what the traced walls leave free or what the reamer has opened along the nail, whichever is
wider. Where a film does not show the walls they are idealised, and a finding says so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.finding import Finding, Severity
from limbwright.implant.nail import HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.view import Border
from limbwright.mechanics import BlockingScrew as ModelScrew
from limbwright.mechanics import Canal, Construct, LockingScrew, NailBeam, Plane, ScrewDirection, Side, Walls
from limbwright.mechanics import Fragment as Part
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.decision import ScrewDirection as PlannedDirection
from limbwright.plan.motion import Floats
from limbwright.plan.nail_fit import shape_offset_mm
from limbwright.plan.path import driving_fragment
from limbwright.practice.profile import Profile
from limbwright.published import Source, Status
from limbwright.quantity import Value

IDEALISED = Source(text="canal idealised where no wall was traced", status=Status.JUDGEMENT)
GUIDED_MM = 100.0  # length over which the rod is guided in the housing when closed; no catalogue tells it
SAMPLE_MM = 2.0
SIDES: dict[Border, Side] = {
    Border.LATERAL: Side.LATERAL,
    Border.MEDIAL: Side.MEDIAL,
    Border.ANTERIOR: Side.ANTERIOR,
    Border.POSTERIOR: Side.POSTERIOR,
}
BORDERS = {side: border for border, side in SIDES.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelledBone(Value):
    """A bone plan as the mechanical model takes it."""

    bone: Bone
    """Bone."""
    entry_fragment: Fragment
    """Fragment that holds the nail's entry end; the other one moves."""
    construct: Construct
    """Nail, walls and screws, blocking screws as planned."""
    untraced: tuple[tuple[Fragment, Projection], ...]
    """Walls that had to be idealised."""
    findings: tuple[Finding, ...]
    """What was assumed."""

    def fragment_of(self, part: Part) -> Fragment:
        """Proximal or distal, of the model's entry or moving fragment."""
        other = Fragment.DISTAL if self.entry_fragment is Fragment.PROXIMAL else Fragment.PROXIMAL
        return self.entry_fragment if part is Part.ENTRY else other

    def part_of(self, fragment: Fragment) -> Part:
        """The model's entry or moving fragment."""
        return Part.ENTRY if fragment is self.entry_fragment else Part.MOVING

    @property
    def distal_sign(self) -> float:
        """+1 where the moving fragment is the distal one, else -1."""
        return 1.0 if self.entry_fragment is Fragment.PROXIMAL else -1.0

    def distal_step_mm(self, step_mm: float, angulation_deg: float, lengthening_mm: float) -> float:
        """Shift of the distal fragment's axis at its own cut face, from the model's step. [mm]

        The model tells how far the moving axis lies from the entry fragment's, at the moving cut face. Where
        that is the proximal one, the distal axis is met a whole gap further on.
        """
        if self.entry_fragment is Fragment.PROXIMAL:
            return step_mm
        return -step_mm - math.radians(angulation_deg) * lengthening_mm


def modelled_bone(plan: BonePlan, canals: Sequence[CanalAlong], profile: Profile) -> ModelledBone:
    """Nail, canals and screws of a bone plan for the mechanical model.

    Parameters
    ----------
    plan : BonePlan
        The plan; its blocking screws stand in the construct.
    canals : sequence of CanalAlong
        Traced canals along the nail, bones corrected and not yet lengthened.
    profile : Profile
        Play, clearance and stiffness.
    """
    nail, entry = plan.nail, driving_fragment(plan.direction)
    cut = plan.osteotomy.depth_mm
    traced = {(c.fragment, c.projection): c for c in canals if _reaches(c, entry, cut)}
    moving = Fragment.DISTAL if entry is Fragment.PROXIMAL else Fragment.PROXIMAL
    untraced = tuple((f, p) for f in (entry, moving) for p in Projection if (f, p) not in traced)
    both = [
        _canal(nail, traced, fragment, is_entry=fragment is entry, cut_mm=cut, bore_mm=plan.reamer_mm)
        for fragment in (entry, moving)
    ]
    bare = Construct(
        nail=nail_beam(nail, profile),
        osteotomy_depth_mm=cut,
        entry_canal=both[0],
        moving_canal=both[1],
        locking_screws=_locks(nail, cut, profile.locking_play_mm),
    )
    modelled = ModelledBone(
        bone=plan.bone, entry_fragment=entry, construct=bare, untraced=untraced, findings=()
    )
    screws = [model_screw(modelled, screw, profile) for screw in plan.blocking_screws]
    return ModelledBone(
        bone=plan.bone,
        entry_fragment=entry,
        construct=bare.with_blocking_screws(*screws),
        untraced=untraced,
        findings=_assumed(plan.bone, traced, untraced),
    )


def nail_beam(nail: Nail, profile: Profile) -> NailBeam:
    """What the equations need of a catalogue nail; a frontal bend goes into the walls instead."""
    bent = nail.bend_plane is Projection.SAGITTAL
    return NailBeam(
        length_mm=nail.length_mm,
        exposed_rod_mm=nail.exposed_thin_mm,
        thick_diameter_mm=nail.thick_diameter_mm,
        thin_diameter_mm=nail.thin_diameter_mm,
        thick_bore_mm=nail.thick_bore_mm,
        modulus_gpa=nail.elastic_modulus_gpa,
        bend_depth_mm=nail.bend_depth_mm if bent else 0.0,
        bend_deg=nail.bend_deg if bent else 0.0,
        joint_clearance_mm=profile.nail_joint_clearance_mm,
        joint_engagement_mm=min(GUIDED_MM, nail.thick_length_mm),
    )


def model_screw(modelled: ModelledBone, screw: BlockingScrew, profile: Profile) -> ModelScrew:
    """A planned blocking screw as a one-sided support; its clearance follows from its offset."""
    radius = modelled.construct.nail.radius_mm(screw.depth_mm)
    return ModelScrew(
        fragment=modelled.part_of(screw.fragment),
        depth_mm=screw.depth_mm,
        side=SIDES[screw.side],
        clearance_mm=screw.offset_mm - radius - screw.diameter_mm / 2,
        diameter_mm=screw.diameter_mm,
        stiffness_n_per_mm=profile.blocking_screw_stiffness_n_per_mm,
    )


def planned_screw(
    modelled: ModelledBone, screw: ModelScrew, plan: BonePlan, profile: Profile
) -> BlockingScrew:
    """A one-sided support of the model as the blocking screw a plan holds."""
    return BlockingScrew(
        fragment=modelled.fragment_of(screw.fragment),
        side=BORDERS[screw.side],
        direction=driven(screw.side.plane),
        depth_mm=screw.depth_mm,
        from_osteotomy_mm=abs(screw.depth_mm - plan.osteotomy.depth_mm),
        offset_mm=screw.axis_offset_mm(modelled.construct.nail.radius_mm(screw.depth_mm)),
        diameter_mm=screw.diameter_mm,
        drill_mm=profile.blocking_screw_drill_mm,
    )


def driven(plane: Plane) -> PlannedDirection:
    """Direction a blocking screw is driven in to hold one plane."""
    frontal = plane is Plane.FRONTAL
    return PlannedDirection.ANTEROPOSTERIOR if frontal else PlannedDirection.MEDIOLATERAL


def _reaches(canal: CanalAlong, entry: Fragment, cut_mm: float) -> bool:
    """Whether the traced walls lie on their own side of the cut for more than a sample."""
    first, last = canal.inner.depth_mm[0], canal.inner.depth_mm[-1]
    if canal.fragment is entry:
        return first < cut_mm - 2 * SAMPLE_MM
    return last > cut_mm + 2 * SAMPLE_MM


def _canal(
    nail: Nail,
    traced: dict[tuple[Fragment, Projection], CanalAlong],
    fragment: Fragment,
    *,
    is_entry: bool,
    cut_mm: float,
    bore_mm: float,
) -> Canal:
    planes = []
    for projection in Projection:
        own = traced.get((fragment, projection))
        other = traced.get((fragment, _across(projection)))
        seen = own or other
        low, high = (1.0, cut_mm) if is_entry else (cut_mm, nail.length_mm)
        if seen is not None:
            low, high = max(low, seen.inner.depth_mm[0]), min(high, seen.inner.depth_mm[-1])
            low, high = (low, cut_mm) if is_entry else (cut_mm, max(high, cut_mm + SAMPLE_MM))
        depth = np.linspace(low, high, max(2, int((high - low) / SAMPLE_MM) + 1))
        if own is not None:
            sides = -own.gaps_mm(depth, 0.0)[0], own.gaps_mm(depth, 0.0)[1]
        elif other is not None:
            sides = -other.width_mm(depth) / 2, other.width_mm(depth) / 2
        else:
            sides = np.full_like(depth, np.inf), np.full_like(depth, -np.inf)  # nothing but the bore
        planes.append(_opened(nail, projection, depth, sides, bore_mm))
    return Canal(frontal=planes[0], sagittal=planes[1])


def _opened(
    nail: Nail, projection: Projection, depth: Floats, sides: tuple[Floats, Floats], bore_mm: float
) -> Walls:
    """Walls after reaming along the nail; in a plane in which the nail bends and the model does not, the
    walls are told from the bent nail's centre line.
    """
    shape = np.zeros_like(depth)
    if nail.bend_plane is projection:
        shape = shape_offset_mm(depth, bend_deg=nail.bend_deg, bend_depth_mm=nail.bend_depth_mm)
    low = np.minimum(sides[0], shape - bore_mm / 2)
    high = np.maximum(sides[1], shape + bore_mm / 2)
    if projection is Projection.FRONTAL:
        low, high = low - shape, high - shape
    return Walls(
        depth_mm=tuple(depth.tolist()), negative_mm=tuple(low.tolist()), positive_mm=tuple(high.tolist())
    )


def _across(projection: Projection) -> Projection:
    return Projection.SAGITTAL if projection is Projection.FRONTAL else Projection.FRONTAL


def _locks(nail: Nail, cut_mm: float, play_mm: float) -> tuple[LockingScrew, ...]:
    """Locking screws that hold; a hole of the thick part beyond the cut stays empty.

    An oblique screw, at 45 degrees to both films, is taken as one in each direction with sqrt(2) its play.
    """
    found = []
    for hole in nail.holes:
        depth = nail.hole_depth_mm(hole)
        if hole.end is NailEnd.THICK and depth >= cut_mm:
            continue
        oblique = hole.direction is HoleDirection.OBLIQUE
        ways = tuple(ScrewDirection) if oblique else (ScrewDirection(hole.direction.value),)
        found += [
            LockingScrew(
                fragment=Part.ENTRY if depth < cut_mm else Part.MOVING,
                depth_mm=depth,
                direction=way,
                play_mm=play_mm * (2**0.5 if oblique else 1.0),
            )
            for way in ways
        ]
    return tuple(found)


def _assumed(
    bone: Bone,
    traced: dict[tuple[Fragment, Projection], CanalAlong],
    untraced: tuple[tuple[Fragment, Projection], ...],
) -> tuple[Finding, ...]:
    if not untraced:
        return ()
    where = ", ".join(f"{fragment} fragment on the {projection} film" for fragment, projection in untraced)
    blind = [f for f in Fragment if all((f, p) in untraced for p in Projection)]
    taken = "as wide as on the other film and centred on the nail"
    if blind:
        names = " and ".join(blind)
        taken = (
            f"in the {names} fragment no wider than the reamer, so that the real drift can only be larger"
            + ("; elsewhere " + taken if traced else "")
        )
    return (
        Finding(
            id="forecast-canal-idealised",
            severity=Severity.CAUTION,
            words=f"Inner walls of the {bone} are not traced: {where}. The forecast takes the canal {taken}.",
            next_step="Trace the inner walls on both films before leaning on the forecast.",
            rule="A forecast of drift rests on the gaps beside the nail.",
            source=IDEALISED,
        ),
    )
