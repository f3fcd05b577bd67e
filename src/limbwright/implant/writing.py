"""Writes a catalogue as the file its owner keeps (TOML); what is written is read back exactly."""

import json
from dataclasses import replace
from itertools import groupby

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Hole, Nail
from limbwright.implant.reading import nail_name
from limbwright.implant.screw import ScrewType

INTRODUCTION = """\
# Nail catalogue: the nails and screws that can be ordered. docs/catalogue.md describes every key.
# Decision support for a licensed surgeon; not a medical device. Check every figure against the
# implant's own instructions.
"""


def catalogue_to_toml(catalogue: Catalogue) -> str:
    """The catalogue as a TOML file; neighbouring nails that differ only in length become one family."""
    parts = [
        INTRODUCTION,
        f"title = {_text(catalogue.title)}\n",
        f"note = {_text(catalogue.note)}\n",
        f"invented = {str(catalogue.invented).lower()}\n",
    ]
    for _, nails in groupby(
        catalogue.nails, key=lambda n: (_pattern(n), replace(n, name="-", length_mm=600))
    ):
        parts.append(_family(tuple(nails)))
    parts.extend(_screw(screw) for screw in catalogue.screws)
    return "".join(parts)


def _pattern(nail: Nail) -> str:
    """The nail's name with `{length}` where its length stands, or as it is where that would not read back."""
    pattern = nail.name.replace(f"{nail.length_mm:g}", "{length}")
    same = nail_name(pattern, diameter_mm=nail.thick_diameter_mm, length_mm=nail.length_mm) == nail.name
    return pattern if same else nail.name


def _family(nails: tuple[Nail, ...]) -> str:
    nail = nails[0]
    lines = [
        "\n[[family]]",
        f"name = {_text(_pattern(nail))}",
        f"bone = {_text(nail.bone)}",
        f"direction = {_text(nail.direction)}",
        f"lengths_mm = [{', '.join(_number(n.length_mm) for n in nails)}]",
        f"stroke_mm = {_number(nail.stroke_mm)}",
        f"exposed_thin_mm = {_number(nail.exposed_thin_mm)}",
    ]
    if nail.bend_deg:
        lines.append(f"bend_deg = {_number(nail.bend_deg)}")
        lines.append(f"bend_depth_mm = {_number(nail.bend_depth_mm)}")
    lines.append(f"bend_plane = {_text(nail.bend_plane)}")
    lines.append(f"elastic_modulus_gpa = {_number(nail.elastic_modulus_gpa)}")
    for key in ("rate_limit_mm_per_day", "reamer_over_mm"):
        if getattr(nail, key) is not None:
            lines.append(f"{key} = {_number(getattr(nail, key))}")
    lines += ["diameters = [", f"  {_size(nail)},", "]"]
    if nail.holes:
        lines += ["holes = [", *(f"  {_hole(hole)}," for hole in nail.holes), "]"]
    return "\n".join(lines) + "\n"


def _size(nail: Nail) -> str:
    cells = [f"thick_mm = {_number(nail.thick_diameter_mm)}", f"thin_mm = {_number(nail.thin_diameter_mm)}"]
    if nail.thick_bore_mm:
        cells.append(f"bore_mm = {_number(nail.thick_bore_mm)}")
    if nail.weight_limit_kg is not None:
        cells.append(f"weight_limit_kg = {_number(nail.weight_limit_kg)}")
    return f"{{ {', '.join(cells)} }}"


def _hole(hole: Hole) -> str:
    return (
        f"{{ end = {_text(hole.end)}, distance_mm = {_number(hole.distance_mm)}, "
        f"direction = {_text(hole.direction)}, screw_diameter_mm = {_number(hole.screw_diameter_mm)} }}"
    )


def _screw(screw: ScrewType) -> str:
    return (
        f"\n[[screw]]\nname = {_text(screw.name)}\npurpose = {_text(screw.purpose)}\n"
        f"diameter_mm = {_number(screw.diameter_mm)}\ncore_diameter_mm = {_number(screw.core_diameter_mm)}\n"
        f"drill_mm = {_number(screw.drill_mm)}\nsolid = {str(screw.solid).lower()}\n"
    )


def _number(value: float) -> str:
    return f"{value:.0f}" if float(value).is_integer() else repr(float(value))


def _text(value: str) -> str:
    # JSON and TOML escape alike, but for DEL, which only TOML forbids
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007F")
