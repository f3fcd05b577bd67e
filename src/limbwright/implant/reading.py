"""Reads a catalogue file (TOML): families of lengths and diameters become orderable nails."""

import tomllib
from itertools import product
from typing import Any

from limbwright.error import LimbwrightError, OutOfRange, Unreadable
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.file_table import WHERE, FileTable
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.implant.screw import Purpose, ScrewType
from limbwright.limb.anatomy import Bone, Projection

LONGEST_FILE_CHARACTERS = 2_000_000
MOST_NAILS = 5000


def catalogue_from_toml(text: str) -> Catalogue:
    """Read a catalogue file; docs/catalogue.md describes it.

    Parameters
    ----------
    text : str
        Content of the TOML file.

    Raises
    ------
    Unreadable
        If the text is not TOML or too long.
    Missing
        If a needed key is absent; names the line of its table.
    OutOfRange
        If a key is unknown, of the wrong kind or impossible; names line, table and key.
    Contradiction
        If two nails or screws share a name.
    """
    document = _toml(text)
    top = FileTable(document, text=text)
    title = top.text("title")
    note = top.text("note", "")
    invented = top.yes_or_no("invented", default=False)
    nails: list[Nail] = []
    for family in _tables(document, top, "family", text):
        nails.extend(_nails_of(family))
        if len(nails) > MOST_NAILS:
            raise OutOfRange(
                f"the catalogue has more than {MOST_NAILS} nails.",
                where=family.where("lengths_mm"),
                next_step="Keep only the nails that can be ordered.",
            )
    screws = [_screw_of(one) for one in _tables(document, top, "screw", text)]
    top.finish()
    return Catalogue(title=title, note=note, invented=invented, nails=tuple(nails), screws=tuple(screws))


def _toml(text: str) -> dict[str, Any]:
    if len(text) > LONGEST_FILE_CHARACTERS:
        raise Unreadable(
            f"the file has {len(text)} characters, expected at most {LONGEST_FILE_CHARACTERS}.",
            where=WHERE,
            next_step="Is this the right file?",
        )
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise Unreadable(
            f"the file is not valid TOML: {error}.",
            where=WHERE,
            next_step="Correct that line; docs/catalogue.md has an example to start from.",
        ) from error


def _tables(document: dict[str, Any], top: FileTable, name: str, text: str) -> list[FileTable]:
    top.asked.append(name)
    value = document.get(name, [])
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        raise OutOfRange(
            f"{name} is not a list of tables.",
            where=top.where(name),
            next_step=f"Begin each of them with a line [[{name}]].",
        )
    return [FileTable(one, text=text, name=name, number=n) for n, one in enumerate(value, start=1)]


def _nails_of(family: FileTable) -> list[Nail]:
    pattern = family.text("name")
    shared: dict[str, Any] = {
        "bone": family.word("bone", Bone),
        "direction": family.word("direction", Direction),
        "stroke_mm": family.number("stroke_mm"),
        "exposed_thin_mm": family.number("exposed_thin_mm"),
        "bend_deg": family.number("bend_deg", 0.0),
        "bend_depth_mm": family.number("bend_depth_mm", 0.0),
        "bend_plane": family.word("bend_plane", Projection, Projection.SAGITTAL),
        "elastic_modulus_gpa": family.number("elastic_modulus_gpa"),
        "rate_limit_mm_per_day": family.optional_number("rate_limit_mm_per_day"),
        "reamer_over_mm": family.optional_number("reamer_over_mm"),
        "holes": tuple(_hole_of(entry) for entry in family.entries("holes", required=False)),
    }
    sizes = [_size_of(entry) for entry in family.entries("diameters", required=True)]
    lengths_mm = family.numbers("lengths_mm")
    family.finish()
    for placeholder, values in (("{diameter}", sizes), ("{length}", lengths_mm)):
        if len(values) > 1 and placeholder not in pattern:
            raise OutOfRange(
                f"name is {pattern!r} for {len(values)} different sizes, expected {placeholder} in it.",
                where=family.where("name"),
                next_step="Put {diameter} and {length} where the sizes stand in the name.",
            )
    nails = []
    for size, length_mm in product(sizes, lengths_mm):
        name = nail_name(pattern, diameter_mm=size["thick_diameter_mm"], length_mm=length_mm)
        try:
            nails.append(Nail(name=name, length_mm=length_mm, **size, **shared))
        except LimbwrightError as error:
            raise family.placed(error) from error
    return nails


def nail_name(pattern: str, *, diameter_mm: float, length_mm: float) -> str:
    """Name of one nail of a family, its diameter and length put in for the placeholders."""
    return pattern.replace("{diameter}", f"{diameter_mm:g}").replace("{length}", f"{length_mm:g}")


def _size_of(entry: FileTable) -> dict[str, Any]:
    size = {
        "thick_diameter_mm": entry.number("thick_mm"),
        "thin_diameter_mm": entry.number("thin_mm"),
        "thick_bore_mm": entry.number("bore_mm", 0.0),
        "weight_limit_kg": entry.optional_number("weight_limit_kg"),
    }
    entry.finish()
    return size


def _hole_of(entry: FileTable) -> Hole:
    end = entry.word("end", NailEnd)
    distance_mm = entry.number("distance_mm")
    direction = entry.word("direction", HoleDirection)
    screw_diameter_mm = entry.number("screw_diameter_mm")
    entry.finish()
    try:
        return Hole(
            end=end, distance_mm=distance_mm, direction=direction, screw_diameter_mm=screw_diameter_mm
        )
    except LimbwrightError as error:
        raise entry.placed(error) from error


def _screw_of(one: FileTable) -> ScrewType:
    name = one.text("name")
    purpose = one.word("purpose", Purpose)
    sizes = {key: one.number(key) for key in ("diameter_mm", "core_diameter_mm", "drill_mm")}
    solid = one.yes_or_no("solid")
    one.finish()
    try:
        return ScrewType(name=name, purpose=purpose, solid=solid, **sizes)
    except LimbwrightError as error:
        raise one.placed(error) from error
