"""File format by content; the file name is never trusted."""

from limbwright.error import Unreadable
from limbwright.film.reading import limits
from limbwright.film.reading.facts import FileKind

_STARTS = (
    (b"\x89PNG\r\n\x1a\n", FileKind.PNG),
    (b"\xff\xd8\xff", FileKind.JPEG),
    (b"II*\x00", FileKind.TIFF),
    (b"MM\x00*", FileKind.TIFF),
    (b"II+\x00", FileKind.TIFF),
    (b"MM\x00+", FileKind.TIFF),
)
# A DICOM data set without the file preamble begins with group 0002 or 0008, little endian.
_BARE_DICOM_STARTS = (b"\x02\x00\x00\x00", b"\x02\x00\x01\x00", b"\x08\x00\x00\x00", b"\x08\x00\x01\x00",
                      b"\x08\x00\x05\x00", b"\x08\x00\x08\x00", b"\x08\x00\x16\x00")  # fmt: skip

_OTHERS = (
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BM", "a BMP picture"),
    (b"GIF8", "a GIF picture"),
    (b"RIFF", "a RIFF file (WebP, WAV or AVI)"),
    (b"<", "a text or XML file"),
    (b"{", "a JSON file"),
)


def is_bare_dicom(content: bytes) -> bool:
    """Whether the content looks like a DICOM data set that lacks its file preamble."""
    return content[128:132] != b"DICM" and content[:4] in _BARE_DICOM_STARTS


def kind_of(content: bytes, *, name: str) -> FileKind:
    """The file format.

    Raises
    ------
    Unreadable
        When the file is empty, too large, or of no format that is read here; known others are named.
    """
    if not content:
        raise Unreadable("the file is empty.", where=name, next_step="Copy or export the film again.")
    if len(content) > limits.MAX_FILE_BYTES:
        raise Unreadable(
            f"the file has {len(content):,} bytes; at most {limits.MAX_FILE_BYTES:,} are read.",
            where=name,
            next_step="Export the single film, compressed without loss.",
        )
    if content[128:132] == b"DICM":
        return FileKind.DICOM
    for start, kind in _STARTS:
        if content.startswith(start):
            return kind
    if is_bare_dicom(content):
        return FileKind.DICOM
    other = next((words for start, words in _OTHERS if content.startswith(start)), "of an unknown kind")
    raise Unreadable(
        f"the file is {other}, not a DICOM, PNG, JPEG or TIFF picture.",
        where=name,
        next_step="Export the film from the archive as DICOM.",
    )


def require_size(rows: int, columns: int, packed_bytes: int | None, *, name: str) -> None:
    """Refuse a declared picture size before anything of that size is allocated.

    Parameters
    ----------
    rows, columns : int
        Declared size [px].
    packed_bytes : int or None
        Bytes the picture is packed in; None when it is not compressed.
    name : str
        Name of the film, for messages.
    """
    if rows <= 0 or columns <= 0:
        raise Unreadable(
            f"the file declares {rows} rows and {columns} columns.",
            where=name,
            next_step="Export the film again; its header is damaged.",
        )
    pixels = rows * columns
    if max(rows, columns) > limits.MAX_SIDE_PIXELS or pixels > limits.MAX_PIXELS:
        raise Unreadable(
            f"the file declares {rows:,} rows and {columns:,} columns; at most {limits.MAX_SIDE_PIXELS:,} "
            f"each way and {limits.MAX_PIXELS:,} pixels in all are read.",
            where=name,
            next_step="Export the film at its original resolution; check that the file is not damaged.",
        )
    if packed_bytes is None or pixels <= limits.ROOMY_PIXELS:
        return
    if pixels > packed_bytes * limits.MAX_PIXELS_PER_BYTE:
        raise Unreadable(
            f"the file declares {pixels:,} pixels but packs them in {packed_bytes:,} bytes; no radiograph "
            f"packs more than {limits.MAX_PIXELS_PER_BYTE} pixels in a byte.",
            where=name,
            next_step="Export the film again; the file is damaged or was made to exhaust memory.",
        )
