"""What a file may ask of us before it is refused; every limit is checked before memory is taken.

Memory of one reading is bounded by the file itself, plus `PEAK_BYTES_PER_PIXEL` for each declared pixel,
plus a fixed part for the header.
"""

MAX_FILE_BYTES = 512 * 1024 * 1024
"""Largest file that is looked at; a 3000 x 9000 film of 16 bits is 54 MB."""

MAX_SIDE_PIXELS = 32_768
"""Most rows or columns; 1.3 m at 0.1 mm are 13,000."""

MAX_PIXELS = 100_000_000
"""Most pixels; a 43 x 130 cm stitched film at 0.1 mm has 56 million."""

PEAK_BYTES_PER_PIXEL = 12
"""Working memory per declared pixel that no decoder here goes beyond (JPEG 2000 is the hungriest)."""

ROOMY_PIXELS = 4_000_000
"""Pictures up to this size may be packed as tightly as they like."""

MAX_PIXELS_PER_BYTE = 400
"""Above `ROOMY_PIXELS`: more pixels than this in one packed byte are no radiograph, which has noise."""

MAX_HEADER_READS = 60_000
"""Reads a DICOM header may take; some 20,000 elements, nested ones counted."""

MAX_HEADER_BYTES = 64 * 1024 * 1024
"""Bytes of a DICOM header that are read, private blocks included."""

MAX_VALUE_BYTES = 4_096
"""Longest single header value that is interpreted."""

MAX_SEQUENCE_BYTES = 512 * 1024
"""Longest sequence that is interpreted; a 16-bit look-up table is 128 KB."""

MAX_FRAGMENTS = 4_096
"""Most pieces that the packed picture of one frame may come in."""

MAX_TILES = 4_096
"""Most tiles of a JPEG 2000 or TIFF picture."""

PLAUSIBLE_SPACING_MM = (0.02, 2.0)
"""Pixel spacings outside these are kept but questioned [mm]."""

AGREEMENT = 0.01
"""Relative difference up to which two statements of one magnification count as the same."""

GREY_TOLERANCE = 12
"""Levels of 255 by which the channels of a grey pixel may differ after colour compression."""

MAX_COLOURED_SHARE = 0.05
"""Largest share of coloured pixels in a picture that still counts as a radiograph with coloured marks."""
