"""New bone in a distraction gap: density against the neighbouring bone, width, shape, length."""

from limbwright.film.new_bone.measure import CortexRatio, NewBone, NewBoneShape, OutlineRule, measure_new_bone
from limbwright.film.new_bone.scatter import USUAL_SHARE
from limbwright.film.reading.development import Development, development_of

__all__ = [
    "USUAL_SHARE",
    "CortexRatio",
    "Development",
    "NewBone",
    "NewBoneShape",
    "OutlineRule",
    "development_of",
    "measure_new_bone",
]
