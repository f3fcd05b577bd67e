"""Opening and windowing a 3000 x 9000 film of 14 bits, beside pydicom's own time to the raw array.

    python benchmarks/bench_film_reading.py

Prints ratios measured in one run, best of several turns taken in alternation. The target is 1.5 or less for
an uncompressed film, opened and drawn whole.
"""

import io
import time
from collections.abc import Callable

import numpy as np
from pydicom import dcmread
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.filewriter import dcmwrite
from pydicom.uid import ExplicitVRLittleEndian

from limbwright.film.reading import Region, grey8, read_facts, read_picture

ROWS, COLUMNS, BITS = 9000, 3000, 14
TURNS = 7
TARGET = 1.5


def film(photometric: str) -> bytes:
    """A film with a shaft and noise, so that no shortcut for flat pictures helps."""
    rng = np.random.Generator(np.random.PCG64(1))
    shaft = 9000 * np.exp(-(np.linspace(-2, 2, COLUMNS)[None, :] ** 2))
    values = (3000 + shaft + rng.integers(0, 400, (ROWS, COLUMNS))).astype(np.uint16)
    ds = Dataset()
    ds.file_meta = FileMetaDataset()
    ds.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
    ds.SOPClassUID, ds.SOPInstanceUID = "1.2.840.10008.5.1.4.1.1.1.1", "1.2.826.0.1.3680043.8.498.2"
    ds.Modality, ds.PhotometricInterpretation, ds.SamplesPerPixel = "DX", photometric, 1
    ds.Rows, ds.Columns, ds.BitsAllocated, ds.BitsStored, ds.HighBit = ROWS, COLUMNS, 16, BITS, BITS - 1
    ds.PixelRepresentation, ds.WindowCenter, ds.WindowWidth = 0, 8000, 9000
    ds.PixelData = values.tobytes()
    ds["PixelData"].VR = "OW"
    out = io.BytesIO()
    dcmwrite(out, ds, enforce_file_format=True)
    return out.getvalue()


def best_seconds(ways: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Best time of each way; ways take turns, so that a busy machine disturbs all alike."""
    best = dict.fromkeys(ways, float("inf"))
    for _ in range(TURNS):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def main() -> None:
    """Measure and print."""
    for photometric in ("MONOCHROME2", "MONOCHROME1"):
        content = film(photometric)
        opened = read_picture(content, name="film").picture
        tile = Region(top=4000, left=1000, rows=512, columns=512)
        seconds = best_seconds(
            {
                "pydicom to the raw array": lambda content=content: dcmread(io.BytesIO(content)).pixel_array,
                "opened": lambda content=content: read_picture(content, name="film"),
                "opened and drawn whole": lambda content=content: grey8(
                    read_picture(content, name="film").picture
                ),
                "header facts only": lambda content=content: read_facts(content, name="film"),
                "one tile of 512 x 512": lambda opened=opened, tile=tile: grey8(opened, region=tile),
                "overview, every 8th pixel": lambda opened=opened: grey8(opened, step=8),
            }
        )
        unit = seconds["pydicom to the raw array"]
        print(f"{ROWS} x {COLUMNS}, {BITS} bits, {photometric}, uncompressed")
        for name, took in seconds.items():
            print(f"  {name:28s} {took * 1e3:8.2f} ms   {took / unit:6.3f} x pydicom")
        ratio = seconds["opened and drawn whole"] / unit
        print(f"  target {TARGET} or less: {'met' if ratio <= TARGET else 'missed'} with {ratio:.2f}")


if __name__ == "__main__":
    main()
