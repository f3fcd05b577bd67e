"""Assisted reading on a phantom film: time of a wall trace over 300 mm and of every snap.

    python benchmarks/bench_film_tracing.py

Best of several turns, processor time of one core, so that other work on the machine counts little. Beside
each
time its ratio to one plain Gaussian smoothing of a square of 1000 x 1000 pixels (scipy), measured in the same
run, so that machines can be compared. Targets: 60 ms for the trace over 300 mm, 100 ms for each snap.
"""

import time
from collections.abc import Callable

import numpy as np
from scipy.ndimage import gaussian_filter

from limbwright.film import phantom
from limbwright.film.phantom import WallKind
from limbwright.film.snap import (
    JointLine,
    find_ball,
    find_head,
    find_joint_line,
    find_nail,
    find_ticks,
    find_tip,
)
from limbwright.film.tracing import Plate, trace_shaft
from limbwright.limb.anatomy import Bone, Side
from limbwright.limb.landmark import Landmark

PX_MM = 0.143
TURNS = 9


def best_ms(work: Callable[[], object]) -> float:
    work()
    times = []
    for _ in range(TURNS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return 1000 * min(times)


def main() -> None:
    nail = phantom.Nail(bone=Bone.FEMUR, length_mm=300.0, thick_length_mm=220.0)
    shape = phantom.LegShape(femur_length_mm=510.0)
    film = phantom.take_film(
        phantom.PatientShape(right=shape, left=shape),
        seed=1,
        setup=phantom.XraySetup(height_mm=1230.0),
        detail=phantom.Detail.COARSE,
        ruler=phantom.Ruler(),
        treatment=phantom.Treatment(left=phantom.Hardware(nails=(nail,))),
    )
    plate = Plate(grey=film.picture, row_mm=PX_MM, column_mm=PX_MM)
    right, left = film.truth.leg(Side.RIGHT), film.truth.leg(Side.LEFT)
    mark = right.landmarks_px
    wall = next(w for w in right.walls if w.bone is Bone.FEMUR and w.kind is WallKind.OUTER)
    nailed = next(w for w in left.walls if w.bone is Bone.FEMUR and w.kind is WallKind.OUTER)

    def clicks(axis):
        return tuple((float(axis[i][0]) + 15.0, float(axis[i][1])) for i in (0, len(axis) // 2, -1))

    def near(at) -> tuple[float, float]:
        return float(at[0]) + 20.0, float(at[1]) - 15.0

    ball = film.truth.balls[0]
    ticks = film.truth.ruler_ticks_px
    traced = trace_shaft(plate, clicks(wall.axis_px))
    middle = nailed.axis_px[len(nailed.axis_px) // 4], nailed.axis_px[len(nailed.axis_px) // 2]
    works = {
        f"wall trace over {traced.depth_mm[-1]:.0f} mm": (
            60,
            lambda: trace_shaft(plate, clicks(wall.axis_px)),
        ),
        "wall trace with a nail": (60, lambda: trace_shaft(plate, clicks(nailed.axis_px))),
        "ball": (100, lambda: find_ball(plate, near(ball.centre_px), diameter_mm=25.0)),
        "femoral head": (100, lambda: find_head(plate, near(right.head_circle.centre_px))),
        "trochanter tip": (
            100,
            lambda: find_tip(plate, near(mark[Landmark.GREATER_TROCHANTER_TIP]), points_up=True),
        ),
        "ruler ticks over 800 mm": (100, lambda: find_ticks(plate, near(ticks[0]), near(ticks[-1]))),
        "nail": (100, lambda: find_nail(plate, tuple(middle[0]), tuple(middle[1]))),
    }
    for kind, medial, lateral in (
        (JointLine.CONDYLES, Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
        (JointLine.PLATEAU, Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
        (JointLine.PLAFOND, Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
    ):
        works[f"line of the {kind}"] = (
            100,
            lambda kind=kind, medial=medial, lateral=lateral: find_joint_line(
                plate, near(mark[medial]), near(mark[lateral]), kind=kind
            ),
        )
    square = np.random.Generator(np.random.PCG64(1)).random((1000, 1000)).astype(np.float32)
    yardstick = best_ms(lambda: gaussian_filter(square, 2.0))
    print(f"{'Gaussian smoothing of 1000 x 1000':34} {yardstick:7.1f} ms")
    for name, (target, work) in works.items():
        spent = best_ms(work)
        verdict = "" if spent <= target else f"   over the target of {target} ms"
        print(f"{name:34} {spent:7.1f} ms   {spent / yardstick:5.2f} x{verdict}")


if __name__ == "__main__":
    main()
