"""Attenuation of tissues and metals at the phantom's one effective energy."""

from enum import StrEnum
from functools import cache

from limbwright.published import table


class Material(StrEnum):
    """What the phantom is made of; the names of the rows of `tables/materials.csv`."""

    CORTICAL_BONE = "cortical_bone"
    SPONGY_BONE = "spongy_bone"
    MARROW = "marrow"
    CARTILAGE = "cartilage"
    MUSCLE = "muscle"
    FAT = "fat"
    TITANIUM_ALLOY = "titanium_alloy"
    STEEL = "steel"
    ALUMINIUM = "aluminium"


@cache
def attenuation_per_mm(material: Material) -> float:
    """Linear attenuation coefficient at 50 keV. [1/mm]"""
    for row in table("film/phantom", "materials"):
        if row.text("material") == material:
            return row.number("attenuation_per_mm")
    raise KeyError(material)


def difference_per_mm(inside: Material, around: Material) -> float:
    """What a mesh of one material adds inside another. [1/mm]"""
    return attenuation_per_mm(inside) - attenuation_per_mm(around)
