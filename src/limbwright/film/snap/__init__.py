"""Proposals from a rough click, each with uncertainty and support; where support is poor, a refusal."""

from limbwright.film.snap.ball import FoundBall, find_ball
from limbwright.film.snap.head import FoundHead, find_head
from limbwright.film.snap.joint_line import FoundLine, JointLine, find_joint_line
from limbwright.film.snap.nail import FoundNail, find_nail
from limbwright.film.snap.ticks import FoundTicks, find_ticks
from limbwright.film.snap.tip import FoundTip, find_tip

__all__ = [
    "FoundBall",
    "FoundHead",
    "FoundLine",
    "FoundNail",
    "FoundTicks",
    "FoundTip",
    "JointLine",
    "find_ball",
    "find_head",
    "find_joint_line",
    "find_nail",
    "find_ticks",
    "find_tip",
]
