"""Where a blocking screw of a plan may stand: one answer for the planner's rule and for the computation."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from limbwright.limb.anatomy import Fragment, Projection
from limbwright.limb.view import Border
from limbwright.mechanics import BlockingScrew as ModelScrew
from limbwright.mechanics import Candidate, KeepOut, Plane, candidate_screws, judged_screw
from limbwright.mechanics import Fragment as Part
from limbwright.plan.canal import CanalAlong
from limbwright.plan.circumstances import StandingHardware
from limbwright.plan.decision import BonePlan
from limbwright.plan.forecast.caution_zones import caution_zones
from limbwright.plan.forecast.construct import SIDES, ModelledBone, driven
from limbwright.plan.nail_in_bone import BlockingRules
from limbwright.plan.planner_rules import blocking_rules
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

BEYOND = "it would stand beyond the nail or beyond the walls traced"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewLimits(Value):
    """What a blocking screw of one plan keeps clear of."""

    modelled: ModelledBone
    """The plan as the mechanical model takes it; its walls are told after reaming."""
    canals: tuple[CanalAlong, ...]
    """Traced canals along the nail, for the outer edges."""
    rules: BlockingRules
    """The surgeon's numbers."""
    from_locks_mm: float
    """Least distance of its axis from that of a locking screw [mm]."""
    keep_outs: tuple[KeepOut, ...]
    """Caution zones that no screw is proposed in, and hardware that stays."""
    stiffness_n_per_mm: float
    """Stiffness of the screw in its bone [N/mm]."""

    def against(self, fragment: Fragment, side: Border, depth_mm: float) -> str:
        """Why a screw cannot stand at a place; empty where it can.

        depth_mm : along the nail, closed.
        """
        screw = ModelScrew(
            fragment=self.modelled.part_of(fragment),
            depth_mm=depth_mm,
            side=SIDES[side],
            clearance_mm=self.rules.clearance_mm,
            diameter_mm=self.rules.diameter_mm,
        )
        judged = judged_screw(
            self.modelled.construct,
            screw,
            notch_mm=self.rules.notch_mm,
            from_hardware_mm=self.from_locks_mm,
            keep_outs=self.keep_outs,
        )
        return BEYOND if judged is None else self._in_bone(judged).against

    def candidates(self, distances_mm: Sequence[float]) -> tuple[Candidate, ...]:
        """Screws of both fragments and all sides at distances from the cut, with what speaks against each."""
        found = candidate_screws(
            self.modelled.construct,
            distances_mm=tuple(distances_mm),
            diameters_mm=(self.rules.diameter_mm,),
            clearance_mm=self.rules.clearance_mm,
            notch_mm=self.rules.notch_mm,
            from_hardware_mm=self.from_locks_mm,
            keep_outs=self.keep_outs,
        )
        return tuple(self._in_bone(c) for c in found)

    def _in_bone(self, judged: Candidate) -> Candidate:
        screw = replace(judged.screw, stiffness_n_per_mm=self.stiffness_n_per_mm)
        return replace(judged, screw=screw, against=judged.against or self._outside(screw))

    def _outside(self, screw: ModelScrew) -> str:
        """Why a screw has no bone around it; nothing where it has, or where the outer edge is not traced."""
        projection = Projection.FRONTAL if screw.side.plane is Plane.FRONTAL else Projection.SAGITTAL
        fragment = self.modelled.fragment_of(screw.fragment)
        radius = self.modelled.construct.nail.radius_mm(screw.depth_mm)
        for canal in self.canals:
            if (canal.fragment, canal.projection) != (fragment, projection):
                continue
            left = canal.cortex_left_mm(screw.depth_mm, screw.axis_offset_mm(radius) + screw.diameter_mm / 2)
            if left is not None and (room := float(left[1] if screw.side.positive else left[0])) < 0:
                return f"it would stand {-room:.1f} mm outside the outer cortex"
        return ""


def screw_limits(
    modelled: ModelledBone,
    plan: BonePlan,
    canals: Sequence[CanalAlong],
    profile: Profile,
    *,
    hardware: Sequence[StandingHardware] = (),
) -> ScrewLimits:
    """What blocking screws of a plan keep clear of.

    Parameters
    ----------
    modelled : ModelledBone
        The plan as the mechanical model takes it, made with the same canals.
    hardware : sequence of StandingHardware
        What stands in the leg already or is planned beside.
    """
    rules = blocking_rules(profile)
    lock_mm = max((hole.screw_diameter_mm for hole in plan.nail.holes), default=0.0)
    return ScrewLimits(
        modelled=modelled,
        canals=tuple(canals),
        rules=rules,
        from_locks_mm=rules.from_lock_mm(lock_mm),
        keep_outs=(*_zones(modelled, plan), *_hardware(modelled, plan, hardware, rules)),
        stiffness_n_per_mm=profile.blocking_screw_stiffness_n_per_mm,
    )


def _zones(modelled: ModelledBone, plan: BonePlan) -> tuple[KeepOut, ...]:
    length = plan.osteotomy.below_joint_mm + plan.osteotomy.above_distal_joint_mm
    found = []
    for zone in caution_zones(plan.bone):
        if not zone.keep_out:
            continue
        ends = sorted(
            plan.osteotomy.depth_mm
            + modelled.distal_sign * (share / 100 * length - plan.osteotomy.below_joint_mm)
            for share in (zone.from_percent, zone.to_percent)
        )
        for part in Part:
            for side in SIDES.values():
                if driven(side.plane) is zone.driven:
                    found.append(
                        KeepOut(
                            fragment=part,
                            start_depth_mm=ends[0],
                            end_depth_mm=ends[1],
                            side=side,
                            reason=zone.structure,
                        )
                    )
    return tuple(found)


def _hardware(
    modelled: ModelledBone, plan: BonePlan, hardware: Sequence[StandingHardware], rules: BlockingRules
) -> tuple[KeepOut, ...]:
    """Stretches that other hardware of the bone takes, with the distance a screw keeps from it."""
    margin = rules.diameter_mm / 2 + rules.to_hardware_mm
    found = []
    for item in hardware:
        if item.bone is not plan.bone:
            continue
        ends = sorted(
            plan.osteotomy.depth_mm + modelled.distal_sign * (level - plan.osteotomy.below_joint_mm)
            for level in (item.from_mm - margin, item.to_mm + margin)
        )
        found += [
            KeepOut(
                fragment=part,
                start_depth_mm=ends[0],
                end_depth_mm=ends[1],
                reason=f"{item.kind} from {item.from_mm:.0f} to {item.to_mm:.0f} mm below the joint line",
            )
            for part in Part
        ]
    return tuple(found)
