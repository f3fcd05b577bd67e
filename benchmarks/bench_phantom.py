"""Cost of a phantom film, one core: `python benchmarks/bench_phantom.py`. Ratios within one run count.

Prints seconds and the ratio to a Gaussian blur of an image of the same size, and the largest memory of the
process. Bones are built first and timed by themselves.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import resource
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.ndimage import gaussian_filter

from limbwright.film.phantom import (
    FRONTAL_SETUP,
    Detail,
    Detector,
    FilmHeader,
    PatientShape,
    Stance,
    dicom_bytes,
    take_film,
)


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    patient = PatientShape()
    long_film = replace(FRONTAL_SETUP, width_mm=429.0, height_mm=1287.0, top_above_hip_mm=150.0)
    tiny = replace(long_film, detector=Detector(pixel_mm=2.0))
    build = seconds(lambda: take_film(patient, seed=1, setup=tiny))
    print(f"bones, fine, with compiling if it is not cached: {build:.2f} s")
    moved = seconds(lambda: take_film(patient, seed=1, setup=tiny, right_stance=Stance(rotation_deg=3.0)))
    print(f"another stance of the same bones: {moved:.2f} s")
    coarse = seconds(lambda: take_film(patient, seed=1, setup=tiny, detail=Detail.COARSE))
    print(f"bones, coarse: {coarse:.2f} s")
    print(f"{'columns x rows':>16} {'film s':>8} {'blur s':>8} {'ratio':>7}")
    for pixel_mm in (0.572, 0.286, 0.143):
        setup = replace(long_film, detector=Detector(pixel_mm=pixel_mm))
        shape = (setup.rows, setup.columns)
        film = min(seconds(lambda s=setup: take_film(patient, seed=2, setup=s)) for _ in range(2))
        sheet = np.ones(shape, dtype=np.float32)
        blur = min(seconds(lambda s=sheet: gaussian_filter(s, 2.0)) for _ in range(2))
        print(f"{setup.columns:>7} x {setup.rows:<6} {film:8.2f} {blur:8.2f} {film / blur:7.1f}")
    largest = take_film(patient, seed=2, setup=long_film)
    print(f"DICOM bytes of the largest: {seconds(lambda: dicom_bytes(largest, FilmHeader())):.2f} s")
    print(
        f"largest memory of the process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20:.2f} GiB"
    )


if __name__ == "__main__":
    main()
