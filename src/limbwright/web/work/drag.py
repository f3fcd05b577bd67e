"""Recalculation under the hand: only what the change touches, from the state of an open light table."""

import time
from typing import Any

from limbwright.limb.anatomy import Projection
from limbwright.plan.stage import StageName
from limbwright.web.work.change import Change, MovedLandmark
from limbwright.web.work.landmark_drag import landmark_drag
from limbwright.web.work.moved import At, dragged_plain
from limbwright.web.work.plan_drag import bone_work, dragged_bone
from limbwright.web.work.state import WorkState


def drag_answer(
    state: WorkState, change: Change, stage: StageName, projection: Projection | None = None
) -> dict[str, Any]:
    """A preview of one change on top of a state, of one plane when it is named; nothing adds up here."""
    started = time.perf_counter()
    if isinstance(change, MovedLandmark):
        answer = landmark_drag(state, change)
    else:
        dragged = dragged_bone(state, change)
        work = bone_work(state, change.bone)
        answer = {
            "base": state.base,
            "change": dragged.change.model_dump(mode="json"),
            "limited": dragged.limited,
            "readings": [],
            "apexes": [],
            "lines": {},
            **dragged_plain(
                state,
                dragged.plan,
                proposal=work.proposal,
                bone_leg=work.leg,
                at=At(stage=stage),
                only=projection,
            ),
        }
    answer["ms"] = round(1000 * (time.perf_counter() - started), 2)
    return answer
