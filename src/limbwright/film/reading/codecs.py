"""Unpacking of compressed pictures: which library decodes which transfer syntax, and nothing else.

Only libraries that survive damaged input inside the process are used. python-gdcm (JPEG lossless, 12-bit)
ends the process on some damaged frames, and so do the run-length decoders of pylibjpeg-rle (a panic that
prints) and of imagecodecs (an overrun), while its PackBits decoder is sound. The declared size of a picture
was checked against its header before it comes here (`codestream`).
"""

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import LimbwrightError, Missing, Unreadable
from limbwright.film.reading.codestream import Packing
from limbwright.film.reading.run_length import run_length_decoded


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """One packed grey or colour frame."""

    content: bytes
    """Bytes of the frame, fragments joined."""
    rows: int
    """Declared size [px]."""
    columns: int
    """Declared size [px]."""
    bits_allocated: int
    """Container bits of one sample: 8 or 16."""
    samples: int
    """Channels: 1 or 3."""
    syntax: str
    """Transfer syntax UID."""
    syntax_name: str
    """Its registered name."""


def _jpeg_8(packed: Packed) -> NDArray[Any]:
    image_module = _library("PIL.Image", "pillow", packed)
    with image_module.open(BytesIO(packed.content), formats=["JPEG"]) as image:
        return np.asarray(image if packed.samples == 1 else image.convert("RGB"))


def _jpeg_deep(packed: Packed) -> NDArray[Any]:
    return _array(_library("imagecodecs", "imagecodecs", packed).jpeg8_decode(packed.content))


def _jpeg_ls(packed: Packed) -> NDArray[Any]:
    buffer, described = _library("jpeg_ls", "pyjpegls", packed).decode_buffer(packed.content)
    dtype = np.uint8 if described["bits_per_sample"] <= 8 else np.dtype("<u2")
    return np.frombuffer(buffer, dtype=dtype).reshape(described["height"], described["width"])


def _jpeg_2000(packed: Packed) -> NDArray[Any]:
    return _array(_library("openjpeg", "pylibjpeg-openjpeg", packed).decode(packed.content))


def _run_length(packed: Packed) -> NDArray[Any]:
    packbits = _library("imagecodecs", "imagecodecs", packed).packbits_decode
    width = packed.bits_allocated // 8
    samples = run_length_decoded(packed.content, packed.rows * packed.columns, width, packbits)
    return samples.view(np.uint8 if width == 1 else np.dtype("<u2")).reshape(packed.rows, packed.columns)


Decoder = Callable[[Packed], NDArray[Any]]

RUN_LENGTH = "1.2.840.10008.1.2.5"
_JPEG_SYNTAXES = {
    "1.2.840.10008.1.2.4.50": (Packing.JPEG, Packing.JPEG_LOSSLESS),
    "1.2.840.10008.1.2.4.51": (Packing.JPEG, Packing.JPEG_LOSSLESS),
    "1.2.840.10008.1.2.4.57": (Packing.JPEG_LOSSLESS, Packing.JPEG),
    "1.2.840.10008.1.2.4.70": (Packing.JPEG_LOSSLESS, Packing.JPEG),
    "1.2.840.10008.1.2.4.80": (Packing.JPEG_LS,),
    "1.2.840.10008.1.2.4.81": (Packing.JPEG_LS,),
    "1.2.840.10008.1.2.4.90": (Packing.JPEG_2000,),
    "1.2.840.10008.1.2.4.91": (Packing.JPEG_2000,),
    "1.2.840.10008.1.2.4.201": (Packing.JPEG_2000,),
    "1.2.840.10008.1.2.4.202": (Packing.JPEG_2000,),
    "1.2.840.10008.1.2.4.203": (Packing.JPEG_2000,),
}
PACKINGS: dict[str, tuple[Packing, ...]] = _JPEG_SYNTAXES
"""Families a transfer syntax may hold; the first is the stated one, others are met in the field."""


def decoder_for(packing: Packing, bits: int) -> Decoder:
    """The decoder of a family at a bit depth."""
    if packing is Packing.JPEG_LS:
        return _jpeg_ls
    if packing is Packing.JPEG_2000:
        return _jpeg_2000
    return _jpeg_8 if packing is Packing.JPEG and bits == 8 else _jpeg_deep


def unpacked(packed: Packed, decoder: Decoder | None = None, *, name: str) -> NDArray[Any]:
    """The samples of a packed frame, shape (rows, columns) or (rows, columns, 3).

    Parameters
    ----------
    packed : Packed
        The frame.
    decoder : Decoder, optional
        From `decoder_for`; run-length decoding when absent.
    name : str
        Name of the film, for messages.

    Raises
    ------
    Missing
        When the library that decodes this transfer syntax is not installed.
    Unreadable
        When the packed picture is damaged.
    """
    try:
        return (decoder or _run_length)(packed)
    except LimbwrightError as reason:
        raise type(reason)(reason.found, where=name, next_step=reason.next_step) from reason
    except Exception as reason:  # a foreign decoder on damaged bytes may raise anything
        words = str(reason).replace("\n", " ").strip()[:160] or type(reason).__name__
        raise Unreadable(
            f"the {packed.syntax_name} picture is damaged ({words}).",
            where=name,
            next_step="Copy or export the film again.",
        ) from reason


def _library(module: str, distribution: str, packed: Packed) -> Any:
    try:
        return importlib.import_module(module)
    except ImportError as reason:
        raise Missing(
            f"the picture is packed as {packed.syntax_name} ({packed.syntax}); the library that unpacks it "
            "is not installed.",
            where="",
            next_step=f"Install the Python package '{distribution}', or export the film uncompressed.",
        ) from reason


def _array(samples: Any) -> NDArray[Any]:
    return np.asarray(samples)
