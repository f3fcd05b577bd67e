"""The stated memory bound, measured in a process of its own for each way of packing."""

import subprocess
import sys
from pathlib import Path

import film_files as files
import pytest

from limbwright.film.reading import limits

_MEASURE = """
import sys
from pathlib import Path
from limbwright.film.reading import grey8, read_picture

def peak():
    # Not getrusage: a child inherits the peak of the process that started it.
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) * 1024

small, large = (Path(name).read_bytes() for name in sys.argv[1:])
grey8(read_picture(small, name="film").picture)
before = peak()
picture = read_picture(large, name="film").picture
print((peak() - before) / (picture.rows * picture.columns))
"""


def _made(kind: str, rows: int, columns: int) -> bytes:
    values = files.shaft(rows, columns)
    if kind == "PNG":
        return files.picture_file(values, "PNG", compress_level=1)
    if kind == "TIFF":
        return files.tiff_file(values, compression="lzw")
    return files.film(values, kind)


@pytest.mark.parametrize("kind", [*files.NATIVE, *files.PACKED, "PNG", "TIFF"])
def test_reading_stays_within_the_stated_memory(tmp_path: Path, kind):
    names = []
    for rows, columns in ((48, 40), (2400, 1500)):
        names.append(str(tmp_path / f"{rows}.film"))
        Path(names[-1]).write_bytes(_made(kind, rows, columns))
    done = subprocess.run(
        [sys.executable, "-c", _MEASURE, *names], capture_output=True, text=True, check=True
    )
    taken = float(done.stdout)
    assert taken <= limits.PEAK_BYTES_PER_PIXEL
