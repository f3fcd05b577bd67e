"""How stiff a round bar or tube is in bending."""

import math

from limbwright.error import OutOfRange
from limbwright.implant.nail import Nail
from limbwright.published import table
from limbwright.quantity import require_within

MM4_PER_M4 = 1e12
PA_PER_GPA = 1e9
CHECK = "Check diameter and bore in the catalogue file."


def second_moment_of_area_mm4(*, diameter_mm: float, bore_mm: float = 0.0) -> float:
    """Second moment of area of a round section about its diameter. [mm⁴]

    Parameters
    ----------
    diameter_mm : float
        Outer diameter. [mm]
    bore_mm : float
        Inner diameter, 0 for a solid bar. [mm]

    Notes
    -----
    I = π/64 (D⁴ − d⁴). The polar moment is twice as large.
    """
    require_within("diameter", diameter_mm, 0.1, 100, "mm", next_step=CHECK)
    if not 0 <= bore_mm < diameter_mm:
        raise OutOfRange(
            f"bore is {bore_mm:g} mm in a bar of {diameter_mm:g} mm, expected at least 0 and "
            "less than the bar.",
            where="bore",
            next_step=CHECK,
        )
    return math.pi / 64 * (diameter_mm**4 - bore_mm**4)


def bending_stiffness_n_m2(*, diameter_mm: float, bore_mm: float = 0.0, elastic_modulus_gpa: float) -> float:
    """Bending stiffness EI of a round section. [N m²]

    Parameters
    ----------
    diameter_mm : float
        Outer diameter. [mm]
    bore_mm : float
        Inner diameter, 0 for a solid bar. [mm]
    elastic_modulus_gpa : float
        Young's modulus. [GPa]
    """
    require_within("elastic modulus", elastic_modulus_gpa, 0.01, 1000, "GPa", next_step=CHECK)
    area_mm4 = second_moment_of_area_mm4(diameter_mm=diameter_mm, bore_mm=bore_mm)
    return elastic_modulus_gpa * PA_PER_GPA * area_mm4 / MM4_PER_M4


def bending_stress_mpa(*, moment_n_m: float, diameter_mm: float, bore_mm: float = 0.0) -> float:
    """Largest bending stress, at the surface, under a bending moment. [MPa]

    Notes
    -----
    σ = M (D/2) / I, with the sign of the moment.
    """
    area_mm4 = second_moment_of_area_mm4(diameter_mm=diameter_mm, bore_mm=bore_mm)
    return moment_n_m * 1000 * (diameter_mm / 2) / area_mm4


def thick_bending_stiffness_n_m2(nail: Nail) -> float:
    """Bending stiffness of a nail's thick part. [N m²]"""
    return bending_stiffness_n_m2(
        diameter_mm=nail.thick_diameter_mm,
        bore_mm=nail.thick_bore_mm,
        elastic_modulus_gpa=nail.elastic_modulus_gpa,
    )


def thin_bending_stiffness_n_m2(nail: Nail) -> float:
    """Bending stiffness of a nail's thin part, taken as a solid bar. [N m²]"""
    return bending_stiffness_n_m2(
        diameter_mm=nail.thin_diameter_mm, elastic_modulus_gpa=nail.elastic_modulus_gpa
    )


def elastic_modulus_gpa(material: str) -> float:
    """Young's modulus of a material of the table `materials`. [GPa]

    Raises
    ------
    OutOfRange
        If the material is not in the table; the message lists those that are.
    """
    known = {row.text("material"): row.number("elastic_modulus_gpa") for row in table("implant", "materials")}
    if material not in known:
        raise OutOfRange(
            f"there is no material {material!r}, expected one of {', '.join(known)}.",
            where="material",
            next_step="Give the modulus of elasticity in GPa from the maker's data instead.",
        )
    return known[material]
