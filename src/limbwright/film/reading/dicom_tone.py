"""From stored values to a `Picture`: modality table or line, polarity, windows, display curve, padding."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbwright.film.reading.dicom_header import Header
from limbwright.film.reading.dicom_layout import Layout
from limbwright.film.reading.dicom_values import Values
from limbwright.film.reading.picture import Curve, Meaning, Picture, Rescale, Window, WindowShape
from limbwright.film.reading.rules import remark
from limbwright.film.reading.window import own_range
from limbwright.finding import Finding

if TYPE_CHECKING:
    pass


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """modality value = slope * stored + intercept."""

    slope: float = 1.0
    intercept: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tone:
    """How picture values come from stored ones, and those from modality values."""

    line: _Line | None
    complement: int | None
    """picture value = complement - stored; None when not inverted."""
    bits: int
    signed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """A look-up table: `entries[0]` answers for `first` and everything below."""

    first: int
    entries: NDArray[np.uint16]
    bits: int
    words: str


def picture_of(
    header: Header, layout: Layout, stored: NDArray[Any], values: Values
) -> tuple[Picture, tuple[Finding, ...]]:
    """The picture of stored values, with its default window; values rise with brightness."""
    name = header.name
    findings: list[Finding] = []
    line: _Line | None = _line(values, name, findings)
    bits, signed = layout.bits_stored, layout.signed
    modality_table = _first_table(values, "ModalityLUTSequence", signed, name, findings)
    if modality_table is not None:
        stored = _through(modality_table, stored)
        bits, signed, line = modality_table.bits, False, _Line()
        findings.append(
            remark(
                "film-modality-lut-applied", f"{name}: {len(modality_table.entries):,} entries, {bits} bits."
            )
        )
    dark_high = layout.photometric == "MONOCHROME1"
    inverted = dark_high != (line is not None and line.slope < 0)
    # Complement within the depth: lowest + highest is 2^bits - 1 for plain, -1 for signed numbers.
    top = -1 if signed else (1 << bits) - 1
    picture_values = _complement(stored, top) if inverted else stored
    picture_values = picture_values.view()
    picture_values.flags.writeable = False
    padding = None
    if modality_table is None:
        padding = _padding(values, signed, layout, name, findings)
    if padding and inverted:
        padding = (top - padding[1], top - padding[0])
    tone = _Tone(line=line, complement=top if inverted else None, bits=bits, signed=signed)
    windows = _windows(values, tone, name, findings)
    curve = _curve(values, tone, name, findings)
    meaning = _meaning(values, dark_high, name, findings)
    windows = windows or (own_range(picture_values, padding),)
    picture = Picture(
        values=picture_values,
        bits_stored=bits,
        inverted=inverted,
        windows=windows,
        curve=curve,
        meaning=meaning,
        rescale=_rescale(values, line, top if inverted else None) if modality_table is None else None,
        padding=padding,
    )
    return picture, tuple(findings)


def _complement(stored: NDArray[Any], top: int) -> NDArray[Any]:
    complement: NDArray[Any] = np.subtract(stored.dtype.type(top), stored)
    return complement


def _line(values: Values, name: str, findings: list[Finding]) -> _Line | None:
    slope, intercept = values.number("RescaleSlope"), values.number("RescaleIntercept")
    if slope is None and values.text("RescaleSlope") is None:
        return _Line(intercept=intercept or 0.0)
    if not slope:
        findings.append(
            remark("film-rescale-unusable", f"{name}: Rescale Slope (0028,1053) is {slope}; it is not used.")
        )
        return None
    return _Line(slope=slope, intercept=intercept or 0.0)


def _rescale(values: Values, line: _Line | None, complement: int | None) -> Rescale | None:
    if line is None or not (values.has("RescaleSlope") or values.has("RescaleIntercept")):
        return None
    unit = values.text("RescaleType") or ""
    if complement is None:
        return Rescale(slope=line.slope, intercept=line.intercept, unit=unit)
    return Rescale(slope=-line.slope, intercept=line.slope * complement + line.intercept, unit=unit)


def _windows(values: Values, tone: _Tone, name: str, findings: list[Finding]) -> tuple[Window, ...]:
    centres, widths = values.numbers("WindowCenter"), values.numbers("WindowWidth")
    line = tone.line
    if centres is None or widths is None or line is None:
        return ()
    function = values.word("VOILUTFunction") or "LINEAR"
    words = (values.text("WindowCenterWidthExplanation") or "").split("\\")
    found = []
    for index, (centre, width) in enumerate(zip(centres, widths, strict=False)):
        if function == "LINEAR":
            # The standard's linear function runs from c - 0.5 - (w-1)/2 to c - 0.5 + (w-1)/2.
            low, high = centre - 0.5 - (width - 1) / 2, centre - 0.5 + (width - 1) / 2
        else:
            low, high = centre - width / 2, centre + width / 2
        if width < 1 or not high >= low:
            findings.append(
                remark(
                    "film-window-unusable", f"{name}: window centre {centre:g}, width {width:g}; not used."
                )
            )
            continue
        low, high = sorted(_picture_value(edge, line, tone.complement) for edge in (low, high))
        found.append(
            Window(
                centre=(low + high) / 2,
                # A width of 1 is a threshold: the narrowest ramp stands for it.
                width=max(high - low, 1e-3),
                shape=WindowShape.SIGMOID if function == "SIGMOID" else WindowShape.LINEAR,
                name=words[index].strip() if index < len(words) else "",
            )
        )
    return tuple(found)


def _picture_value(modality: float, line: _Line, complement: int | None) -> float:
    stored = (modality - line.intercept) / line.slope
    return stored if complement is None else complement - stored


def _padding(
    values: Values, signed: bool, layout: Layout, name: str, findings: list[Finding]
) -> tuple[int, int] | None:
    ends = [
        _sample(values, keyword, signed, layout.bits_allocated)
        for keyword in ("PixelPaddingValue", "PixelPaddingRangeLimit")
    ]
    if ends[0] is None:
        return None
    low, high = sorted((ends[0], ends[0] if ends[1] is None else ends[1]))
    bits = layout.bits_stored
    floor, ceiling = (-(1 << (bits - 1)), (1 << (bits - 1)) - 1) if signed else (0, (1 << bits) - 1)
    if high < floor or low > ceiling:
        findings.append(
            remark(
                "film-padding-unusable",
                f"{name}: padding value {low} to {high} lies outside the {bits}-bit values {floor} to "
                f"{ceiling}; no pixel can have it.",
            )
        )
        return None
    return max(low, floor), min(high, ceiling)


def _sample(values: Values, keyword: str, signed: bool, bits: int) -> int | None:
    """A value with the sign of the pixels; without explicit VR it arrives as bytes or with either sign."""
    value = values.raw(keyword)
    if isinstance(value, bytes):
        if len(value) != 2:
            values.unreadable(keyword, "is not one 16-bit number.")
            return None
        return int.from_bytes(value, "little", signed=signed)
    number = values.whole(keyword)
    if number is None or not signed or number < 1 << (bits - 1):
        return number
    return number - (1 << bits)


def _first_table(
    values: Values, keyword: str, signed: bool, name: str, findings: list[Finding]
) -> _Table | None:
    items = values.items(keyword)
    if not items:
        return None
    table = _table(Values(items[0], name), signed)
    if table is None:
        findings.append(
            remark(
                "film-lut-unusable", f"{name}: the table of {keyword} contradicts its descriptor; not used."
            )
        )
    return table


def _table(item: Values, signed: bool) -> _Table | None:
    descriptor = item.raw("LUTDescriptor")
    data = item.raw("LUTData", most=1 << 18)
    if isinstance(descriptor, bytes) and len(descriptor) == 6:
        descriptor = [int.from_bytes(descriptor[at : at + 2], "little") for at in (0, 2, 4)]
    try:
        count, first, bits = (int(part) for part in descriptor)
        count = count or 1 << 16
        if signed and first >= 1 << 15:
            first -= 1 << 16
        if isinstance(data, bytes):
            # Tables of 8 bits may be packed one byte an entry.
            bytewise = bits <= 8 and len(data) < 2 * count
            entries = np.frombuffer(data, dtype=np.uint8 if bytewise else np.dtype("<u2"))
        else:
            entries = np.array([int(part) & 0xFFFF for part in data], dtype=np.uint16)
    except (TypeError, ValueError):
        return None
    if not (8 <= bits <= 16 and 2 <= count <= len(entries)) or int(entries[:count].max()) >= 1 << bits:
        return None
    return _Table(
        first=first,
        entries=entries[:count].astype(np.uint16),
        bits=bits,
        words=item.text("LUTExplanation") or "",
    )


def _through(table: _Table, stored: NDArray[Any]) -> NDArray[np.uint16]:
    index = np.clip(stored.astype(np.int32) - table.first, 0, len(table.entries) - 1)
    return table.entries[index]


def _curve(values: Values, tone: _Tone, name: str, findings: list[Finding]) -> Curve | None:
    """Display curve (VOI LUT) sampled at every picture value."""
    line, complement, bits, signed = tone.line, tone.complement, tone.bits, tone.signed
    # The first mapped value has the sign of modality values, which may be negative whenever rescaled.
    table = _first_table(
        values, "VOILUTSequence", signed or (line is not None and line.intercept < 0), name, findings
    )
    if table is None or line is None:
        return None
    low = -(1 << (bits - 1)) if signed else 0
    picture = np.arange(low, low + (1 << bits))
    stored = picture if complement is None else complement - picture
    index = np.rint(line.slope * stored + line.intercept).astype(np.int64) - table.first
    greys = table.entries[np.clip(index, 0, len(table.entries) - 1)] * (255.0 / ((1 << table.bits) - 1))
    # MONOCHROME1 shows the table's high output dark.
    if values.word("PhotometricInterpretation") == "MONOCHROME1":
        greys = 255.0 - greys
    return Curve(
        first_value=low, greys=tuple(int(grey) for grey in np.rint(greys).astype(int)), name=table.words
    )


def _meaning(values: Values, dark_high: bool, name: str, findings: list[Finding]) -> Meaning:
    shape = values.word("PresentationLUTShape")
    if shape in ("IDENTITY", "INVERSE") and (shape == "INVERSE") != dark_high:
        findings.append(
            remark(
                "film-polarity-contradiction",
                f"{name}: the picture is {'MONOCHROME1' if dark_high else 'MONOCHROME2'}, but Presentation "
                f"LUT Shape (2050,0020) is {shape}; the photometric interpretation was followed.",
            )
        )
    sign = values.whole("PixelIntensityRelationshipSign")
    # Sign -1: higher stored values, less X-ray intensity, denser body.
    if sign in (-1, 1) and (sign == -1) == dark_high:
        findings.append(
            remark(
                "film-bone-shows-dark",
                f"{name}: Pixel Intensity Relationship Sign (0028,1041) {sign:+d} with "
                f"{'MONOCHROME1' if dark_high else 'MONOCHROME2'} shows dense parts dark.",
            )
        )
    relationship = values.word("PixelIntensityRelationship")
    if values.word("PresentationIntentType") == "FOR PRESENTATION" or relationship == "DISP":
        return Meaning.PROCESSED
    return {"LOG": Meaning.LINEAR_IN_ATTENUATION, "LIN": Meaning.LINEAR_IN_INTENSITY}.get(
        relationship or "", Meaning.UNSTATED
    )
