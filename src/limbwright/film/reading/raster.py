"""PNG and JPEG pictures by Pillow; grey only, sizes checked before decoding."""

from dataclasses import replace
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import LimbwrightError, Unreadable
from limbwright.film.reading.colour import grey_of_colour
from limbwright.film.reading.facts import FileKind, HeaderFacts
from limbwright.film.reading.picture import Picture, Window
from limbwright.film.reading.recognise import require_size
from limbwright.film.reading.rules import remark
from limbwright.film.reading.window import own_range
from limbwright.finding import Finding

if TYPE_CHECKING:
    from PIL.Image import Image

_BITS = {"L": 8, "LA": 8, "RGB": 8, "RGBA": 8, "I;16": 16, "I;16B": 16, "I": 16}
_ORIENTATION = 0x0112
_TURNS = {2: "mirrored", 3: "upside down", 4: "mirrored and upside down", 5: "mirrored and on its side",
          6: "on its side", 7: "mirrored and on its side", 8: "on its side"}  # fmt: skip


def raster_facts(content: bytes, kind: FileKind, *, name: str) -> tuple[HeaderFacts, tuple[Finding, ...]]:
    """Size and depth of a PNG or JPEG file; such files carry no scale.

    Raises
    ------
    Unreadable
        When the file is damaged, too large, in colour modes that are not read, or holds several pictures.
    """
    with _opened(content, kind, name) as image:
        return _facts(image, kind), (no_scale(kind, name),)


def raster_picture(
    content: bytes, kind: FileKind, *, name: str
) -> tuple[Picture, HeaderFacts, tuple[Finding, ...]]:
    """Picture, facts and findings of a PNG or JPEG file."""
    findings = [no_scale(kind, name)]
    with _opened(content, kind, name) as image:
        try:
            samples = _samples(image, name, findings)
        except LimbwrightError:
            raise
        except Exception as reason:  # a foreign decoder on damaged bytes may raise anything
            raise _damaged(kind, reason, name) from reason
        facts = _facts(image, kind)
    picture = picture_of_samples(samples, facts.bits_stored)
    # Turning by a right angle exchanges rows and columns.
    return picture, _resized(facts, picture), tuple(findings)


def picture_of_samples(samples: NDArray[Any], bits: int) -> Picture:
    """A picture of plain grey samples: 8-bit ones are shown whole, deeper ones over their own range."""
    samples = samples.view()
    samples.flags.writeable = False
    window = Window(centre=127.5, width=255.0, name="whole range") if bits == 8 else own_range(samples, None)
    return Picture(values=samples, bits_stored=bits, inverted=False, windows=(window,))


def no_scale(kind: FileKind, name: str) -> Finding:
    """The finding that a picture file carries no scale."""
    return remark("film-no-scale-in-picture-file", f"{name}: a {kind} file carries no scale.")


def _opened(content: bytes, kind: FileKind, name: str) -> "Image":
    from PIL import Image

    try:
        image = Image.open(BytesIO(content), formats=[kind.value])
        frames = int(getattr(image, "n_frames", 1))
    except Exception as reason:  # a foreign decoder on damaged bytes may raise anything
        raise _damaged(kind, reason, name) from reason
    columns, rows = image.size
    require_size(rows, columns, len(content), name=name)
    if frames != 1:
        raise Unreadable(
            f"the {kind} file holds {frames} pictures; a film is one.",
            where=name,
            next_step="Export the single picture that is to be measured.",
        )
    if image.mode not in _BITS:
        raise Unreadable(
            f"the {kind} picture has the colour mode '{image.mode}'; grey of 8 or 16 bits is read.",
            where=name,
            next_step="Export the radiograph itself as DICOM or as a grey picture.",
        )
    return image


def _samples(image: "Image", name: str, findings: list[Finding]) -> NDArray[Any]:
    from PIL import ImageOps

    turn = _TURNS.get(image.getexif().get(_ORIENTATION, 1))
    image.load()
    if turn:
        findings.append(
            remark("film-turned", f"{name}: the file is stored {turn} and was turned as it asks.")
        )
        image = ImageOps.exif_transpose(image)
    samples = np.array(image)
    if image.mode in ("LA", "RGBA"):
        if int(samples[..., -1].min()) < 255:
            raise Unreadable(
                "parts of the picture are transparent, so its grey values are not those of a film.",
                where=name,
                next_step="Export the radiograph itself as DICOM or as a grey picture.",
            )
        findings.append(remark("film-opaque-layer-dropped", f"{name}: the transparency channel is opaque."))
        samples = samples[..., 0] if image.mode == "LA" else samples[..., :3]
    if samples.ndim == 3:
        samples, colour_findings = grey_of_colour(samples, name=name)
        findings.extend(colour_findings)
    if samples.dtype != np.uint8:
        samples = samples.astype(np.uint16)
    return np.ascontiguousarray(samples)


def _facts(image: "Image", kind: FileKind) -> HeaderFacts:
    columns, rows = image.size
    return HeaderFacts(
        kind=kind,
        rows=rows,
        columns=columns,
        bits_stored=_BITS[image.mode],
        photometric=image.mode,
        lossy=True if kind is FileKind.JPEG else None,
    )


def _resized(facts: HeaderFacts, picture: Picture) -> HeaderFacts:
    return replace(facts, rows=picture.rows, columns=picture.columns)


def _damaged(kind: FileKind, reason: Exception, name: str) -> Unreadable:
    words = str(reason).replace("\n", " ").strip()
    # Pillow names the buffer by its memory address, which helps nobody.
    words = "its header cannot be read" if "cannot identify" in words or not words else words[:160]
    return Unreadable(
        f"the {kind} file is damaged ({words}).", where=name, next_step="Copy or export the film again."
    )
