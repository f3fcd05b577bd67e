"""How the pixels of a DICOM frame are laid out, every number checked before anything is allocated."""

from dataclasses import dataclass

from limbwright.error import Contradiction, LimbwrightError, Missing, Unreadable
from limbwright.film.reading.dicom_header import NATIVE, Header
from limbwright.film.reading.dicom_values import Values
from limbwright.film.reading.recognise import require_size

_GREY = ("MONOCHROME1", "MONOCHROME2")
_COLOUR = ("RGB", "YBR_FULL", "YBR_FULL_422")
_AGAIN = "Export the film again from the archive."


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How the samples of one frame are laid out."""

    rows: int
    """Pixels from top to bottom."""
    columns: int
    """Pixels from left to right."""
    samples: int
    """Channels: 1, or 3 for colour."""
    photometric: str
    """Photometric interpretation."""
    planar: bool
    """Colour by plane instead of by pixel."""
    bits_allocated: int
    """Container bits of one sample: 8 or 16."""
    bits_stored: int
    """Bits of depth."""
    shift: int
    """Unused low bits below the sample."""
    signed: bool
    """Two's complement samples."""

    @property
    def bytes_needed(self) -> int:
        """Bytes of one uncompressed frame."""
        return self.rows * self.columns * self.samples * self.bits_allocated // 8


def layout_of(header: Header, values: Values) -> Layout:
    """Layout of the single frame, every number checked before anything is allocated.

    Raises
    ------
    Missing
        When a size or depth is not stated.
    Contradiction
        When depths cannot all be true.
    Unreadable
        When the file holds several frames, colour that is not read here, or more than the limits allow.
    """
    name = header.name
    frames = _required(values, "NumberOfFrames", name) if values.text("NumberOfFrames") else 1
    if frames != 1:
        raise Unreadable(
            f"the file holds {frames} frames (0028,0008); a film is one frame.",
            where=name,
            next_step="Export the single frame that is to be measured.",
        )
    rows, columns = (_required(values, keyword, name) for keyword in ("Rows", "Columns"))
    photometric = values.word("PhotometricInterpretation") or ""
    samples = _required(values, "SamplesPerPixel", name) if values.has("SamplesPerPixel") else 1
    readable = {1: _GREY, 3: _COLOUR}.get(samples, ())
    if photometric not in readable or (photometric == "YBR_FULL_422" and header.syntax in NATIVE):
        raise not_read_as(photometric, samples, name)
    packed = None if header.syntax in NATIVE else len(header.content)
    require_size(rows, columns, packed, name=name)
    allocated = _required(values, "BitsAllocated", name)
    stored = _required(values, "BitsStored", name) if values.has("BitsStored") else allocated
    high = _required(values, "HighBit", name) if values.has("HighBit") else stored - 1
    if allocated not in (8, 16):
        raise Unreadable(
            f"one pixel takes {allocated} bits (0028,0100); radiographs of 8 or 16 are read.",
            where=name,
            next_step="Export the radiograph itself, not a mask or a computed map.",
        )
    if not (2 <= stored <= allocated and stored - 1 <= high < allocated):
        raise Contradiction(
            f"{stored} bits stored (0028,0101) with high bit {high} (0028,0102) do not fit in {allocated} "
            "bits allocated (0028,0100).",
            where=name,
            next_step=_AGAIN,
        )
    signed = _required(values, "PixelRepresentation", name) if values.has("PixelRepresentation") else 0
    if signed not in (0, 1):
        raise Contradiction(
            f"pixel representation (0028,0103) is {signed}, expected 0 or 1.", where=name, next_step=_AGAIN
        )
    if samples == 3 and (stored != 8 or signed):
        raise Unreadable(
            f"the picture is colour with {stored} bits a channel; colour is read with 8 bits only.",
            where=name,
            next_step="Export the radiograph itself as grey.",
        )
    return Layout(
        rows=rows,
        columns=columns,
        samples=samples,
        photometric=photometric,
        planar=samples == 3 and values.whole("PlanarConfiguration") == 1,
        bits_allocated=allocated,
        bits_stored=stored,
        shift=high - (stored - 1),
        signed=bool(signed),
    )


def not_read_as(photometric: str, samples: int, name: str) -> LimbwrightError:
    """The error for a kind of grey or colour that is not read, or that contradicts its channels."""
    if not photometric:
        return Missing("the photometric interpretation is not stated.", where=name, next_step=_AGAIN)
    grey = photometric.startswith("MONOCHROME")
    if grey and samples != 1:
        return Contradiction(
            f"the picture is {photometric} with {samples} channels, expected 1.",
            where=name,
            next_step=_AGAIN,
        )
    if samples == 1 and photometric in _COLOUR:
        return Contradiction(
            f"the picture is {photometric} with one channel, expected three.", where=name, next_step=_AGAIN
        )
    return Unreadable(
        f"the picture is colour ({photometric[:20]}, {samples} channel(s)) of a kind that is not read; its "
        "grey values are not those of a radiograph.",
        where=name,
        next_step="Export the radiograph itself as grey (MONOCHROME1 or MONOCHROME2).",
    )


def _required(values: Values, keyword: str, name: str) -> int:
    number = values.whole(keyword)
    if number is None:
        raise Missing(f"{keyword} is not stated or cannot be read.", where=name, next_step=_AGAIN)
    return number
