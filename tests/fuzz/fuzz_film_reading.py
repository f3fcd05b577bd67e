"""Mutated film files: no crash, no hang, bounded memory, nothing printed, always a plain error.

    python tests/fuzz/fuzz_film_reading.py --files 20000

Files are numbered; `--first N --files 1` repeats one. Work is done in child processes, so that a codec that
kills its process is found and named too. The limits checked are those that `limbwright.film.reading` states.
"""

import argparse
import json
import resource
import subprocess
import sys
import time
from importlib.util import find_spec
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "film" / "reading"))

import film_files
import numpy as np

from limbwright.error import LimbwrightError
from limbwright.film.reading import grey8, read_facts, read_picture

SECONDS_A_FILE = 2.0
MEMORY_BYTES = 1_200_000_000
BATCH = 1000
_EXTREMES = (
    0,
    1,
    2,
    0x7F,
    0x80,
    0xFF,
    0x7FFF,
    0x8000,
    0xFFFF,
    0x7FFFFFFF,
    0x80000000,
    0xFFFFFFFE,
    0xFFFFFFFF,
)
_MOST_SEED_BYTES = 200_000


def seeds() -> list[bytes]:
    """Small files of every kind, made here or carried by packages; readable ones weigh five times."""
    f = film_files
    deep, shallow = f.shaft(), f.shaft(bits=8)
    made = [f.film(deep, syntax) for syntax in (*f.NATIVE, *f.PACKED)]
    made += [
        f.film(f.shaft(signed=True), syntax) for syntax in (f.ExplicitVRLittleEndian, f.JPEG2000Lossless)
    ]
    made += [f.film(shallow, bits=8), f.jpeg_film()]
    made += [f.picture_file(shallow, kind) for kind in ("PNG", "JPEG")]
    made += [f.picture_file(deep, "PNG"), f.picture_file(np.dstack([shallow] * 3), "PNG")]
    made += [f.tiff_file(deep), f.tiff_file(deep, compression="zlib"), f.tiff_file(deep, tile=(16, 16))]
    made += [f.tiff_file(shallow, compression="lzw"), f.tiff_file(shallow, compression="packbits")]
    for package, folder in (("pydicom", "data/test_files"), ("data_store", "data")):
        spec = find_spec(package)
        if spec is None or spec.origin is None:
            raise SystemExit(f"the package {package} is needed for its film files")
        files = sorted((Path(spec.origin).parent / folder).glob("*.dcm"))
        made += [file.read_bytes() for file in files if file.stat().st_size <= _MOST_SEED_BYTES]
    sound = [content for content in made if outcome(content) == "read"]
    return made + sound * 4


def mutated(number: int, from_seeds: list[bytes]) -> bytes:
    """The file of a number: one seed with some bytes changed, moved, repeated or cut away."""
    rng = Random(number)
    content = bytearray(rng.choice(from_seeds))
    for _ in range(rng.choice((1, 1, 1, 2, 3, 5, 10, 40))):
        _mutate(content, rng, from_seeds)
        if not content:
            break
    return bytes(content)


def _mutate(content: bytearray, rng: Random, from_seeds: list[bytes]) -> None:
    # Half of the changes go to the first kilobytes, where sizes and lengths stand.
    reach = len(content) if rng.random() < 0.5 else min(len(content), 2048)
    at = rng.randrange(reach)
    how = rng.random()
    if how < 0.35:
        content[at] = rng.randrange(256)
    elif how < 0.45:
        content[at] ^= 1 << rng.randrange(8)
    elif how < 0.65:
        width = rng.choice((1, 2, 4))
        extreme = rng.choice(_EXTREMES) & ((1 << 8 * width) - 1)
        content[at : at + width] = extreme.to_bytes(width, rng.choice(("little", "big")))
    elif how < 0.75:
        del content[at : at + rng.choice((1, 2, 8, 100))]
    elif how < 0.85:
        piece = content[at : at + rng.choice((2, 8, 64))]
        content[at:at] = piece * rng.choice((1, 2, 50))
    elif how < 0.96:
        other = rng.choice(from_seeds)
        start = rng.randrange(len(other))
        content[at : at + 64] = other[start : start + 64]
    else:
        del content[at:]


def outcome(content: bytes) -> str:
    """What came of reading a file: `read`, or the name of the plain error; anything else raises."""
    try:
        read_facts(content, name="film")
    except LimbwrightError as plain:
        _require_plain(plain)
    try:
        grey8(read_picture(content, name="film").picture)
    except LimbwrightError as plain:
        _require_plain(plain)
        return type(plain).__name__
    return "read"


def _require_plain(error: LimbwrightError) -> None:
    if not (error.found and error.where and error.next_step and len(str(error)) < 1000):
        raise AssertionError(f"not a plain error: {error!r}")


def _work(first: int, count: int) -> None:
    """Child process: read files one after another, tell about each that was slow or failed."""
    resource.setrlimit(resource.RLIMIT_AS, (4 * MEMORY_BYTES, 4 * MEMORY_BYTES))
    from_seeds = seeds()
    for seed in from_seeds:  # libraries are imported and warm before anything is timed
        outcome(seed)
    tally: dict[str, int] = {}
    slowest = 0.0
    for number in range(first, first + count):
        print(json.dumps({"at": number}), flush=True)
        content = mutated(number, from_seeds)
        start = time.perf_counter()
        try:
            came = outcome(content)
        except BaseException as wrong:
            came = f"FAILED {type(wrong).__name__}: {str(wrong)[:200]}"
            print(json.dumps({"failed": number, "why": came}), flush=True)
        took = time.perf_counter() - start
        if took > SECONDS_A_FILE:
            print(json.dumps({"failed": number, "why": f"took {took:.1f} s"}), flush=True)
        slowest = max(slowest, took)
        tally[came.split(":")[0]] = tally.get(came.split(":")[0], 0) + 1
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(json.dumps({"tally": tally, "slowest": slowest, "peak": peak}), flush=True)


def main() -> int:
    """Run the batches and report; 0 when nothing failed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--files", type=int, default=20_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.worker:
        _work(arguments.first, arguments.files)
        return 0
    total: dict[str, int] = {}
    failures: list[str] = []
    slowest = peak = 0.0
    number, end = arguments.first, arguments.first + arguments.files
    while number < end:
        count = min(BATCH, end - number)
        command = [sys.executable, __file__, "--worker", "--first", str(number), "--files", str(count)]
        child = subprocess.run(command, capture_output=True, text=True, check=False)
        lines = [json.loads(line) for line in child.stdout.splitlines()]
        failures += [f"file {line['failed']}: {line['why']}" for line in lines if "failed" in line]
        if child.stderr.strip():
            failures.append(f"files {number} to {number + count - 1} printed: {child.stderr.strip()[:300]}")
        reached = max((line["at"] for line in lines if "at" in line), default=number)
        if child.returncode:
            failures.append(f"file {reached}: the process ended with {child.returncode}")
            number = reached + 1
        else:
            number += count
        for line in lines:
            for came, times in line.get("tally", {}).items():
                total[came] = total.get(came, 0) + times
            slowest, peak = max(slowest, line.get("slowest", 0.0)), max(peak, line.get("peak", 0.0))
        print(f"{number - arguments.first:6d} files, {len(failures)} failures", flush=True)
    if peak > MEMORY_BYTES:
        failures.append(f"memory peak {peak:,.0f} bytes, bound {MEMORY_BYTES:,}")
    print(f"outcomes {total}; slowest file {slowest:.2f} s; memory peak {peak / 1e6:.0f} MB")
    print("\n".join(failures[:50]) or "no failures")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
