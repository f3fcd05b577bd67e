"""One light table: a case with everything worked out about it; a drag computes only what it changes."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from limbwright.case.case import Case
from limbwright.case.document import case_to_json
from limbwright.case.measured import MeasuredCase, MeasuredLeg, measured_case
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.case.situation import BoneDeformity, deformities
from limbwright.error import LimbwrightError
from limbwright.film.leg import Stated
from limbwright.finding import Finding
from limbwright.implant.catalogue import Catalogue
from limbwright.limb.anatomy import Side
from limbwright.plan.leg import LegModel, leg_model
from limbwright.practice.profile import Profile
from limbwright.web.work.altering import Altered, altered
from limbwright.web.work.change import Alteration


@dataclass(frozen=True, slots=True, kw_only=True)
class Headers:
    """What the headers of a case's films say."""

    stated: Mapping[str, Stated] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """The surgeon's numbers and hardware, with their versions in the store."""

    profile: Profile
    catalogue: Catalogue
    profile_version: int = 0
    catalogue_version: int = 0


@dataclass(slots=True, kw_only=True)
class WorkState:
    """What is known about one case at one moment of editing. `base` names it."""

    base: str
    case: Case
    practice: Practice
    headers: Headers
    measured: MeasuredCase | None
    measured_absent: LimbwrightError | None
    seen: tuple[BoneDeformity, ...]
    legs: Mapping[Side, LegModel | None]
    planned: PlannedCase | None = None
    planned_absent: LimbwrightError | None = None
    alterations: Altered | None = None
    cache: dict[str, Any] = field(default_factory=dict)
    """Things a drag works out once for all drags of the same state."""

    def measured_leg(self, side: Side) -> MeasuredLeg | None:
        """One leg as measured."""
        if self.measured is None:
            return None
        return self.measured.treated if side is self.case.side else self.measured.other


def base_of(case: Case, alterations: tuple[Alteration, ...], practice: Practice) -> str:
    """Name of a state: the same case, alterations and practice always give the same one."""
    told = [
        case_to_json(case),
        json.dumps([a.model_dump(mode="json") for a in alterations]),
        f"{practice.profile_version}/{practice.catalogue_version}",
        repr(practice.profile),
    ]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:16]


def measured_state(case: Case, practice: Practice, headers: Headers) -> WorkState:
    """A case measured as far as it can be."""
    measured, absent = None, None
    seen: tuple[BoneDeformity, ...] = ()
    try:
        measured = measured_case(case, practice.profile, stated=headers.stated)
        seen = deformities(measured)
    except LimbwrightError as error:
        absent = error
    legs: dict[Side, LegModel | None] = {}
    for side in Side:
        leg = None if measured is None else measured.treated if side is case.side else measured.other
        legs[side] = None if leg is None else _model(leg)
    return WorkState(
        base=base_of(case, (), practice),
        case=case,
        practice=practice,
        headers=headers,
        measured=measured,
        measured_absent=absent,
        seen=seen,
        legs=legs,
    )


def planned_state(
    case: Case, alterations: tuple[Alteration, ...], practice: Practice, headers: Headers
) -> WorkState:
    """A case measured and planned, with the alterations laid over the proposal, as far as it can be."""
    state = measured_state(case, practice, headers)
    state.base = base_of(case, alterations, practice)
    if state.measured is None:
        state.planned_absent = state.measured_absent
        return state
    try:
        planned = planned_case(case, practice.profile, practice.catalogue, stated=headers.stated)
    except LimbwrightError as error:
        state.planned_absent = error
        return state
    state.alterations = altered(case, planned, alterations, practice.profile)
    state.planned = state.alterations.planned
    state.measured, state.seen = planned.measured, planned.deformities
    return state


def _model(leg: MeasuredLeg) -> LegModel | None:
    """The leg in three dimensions; None while a scale, a knee centre or the frontal film is missing."""
    if leg.views.frontal is None:
        return None
    try:
        return leg_model(leg.views.frontal, leg.views.sagittal)
    except LimbwrightError:
        return None
