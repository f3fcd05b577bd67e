"""What must hold among the marks of one film, whoever placed them; a film that breaks it is never built.

Points are (x_px, y_px): x to the viewer's right, y down. A refusal names the field in `where`.
"""

from collections.abc import Iterator, Mapping
from itertools import combinations

from limbwright.error import Contradiction, LimbwrightError, OutOfRange
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark, plain_words, shown_in
from limbwright.limb.view import Border

Point = tuple[float, float]

DOWN_THE_FEMUR = (
    Landmark.FEMORAL_HEAD_CENTRE,
    Landmark.FEMUR_PROXIMAL_SHAFT_UPPER,
    Landmark.FEMUR_PROXIMAL_SHAFT_LOWER,
    Landmark.FEMUR_MIDDLE_SHAFT_UPPER,
    Landmark.FEMUR_MIDDLE_SHAFT_LOWER,
    Landmark.FEMUR_DISTAL_SHAFT_UPPER,
    Landmark.FEMUR_DISTAL_SHAFT_LOWER,
    Landmark.FEMUR_KNEE_CENTRE,
)
DOWN_THE_TIBIA = (
    Landmark.TIBIA_KNEE_CENTRE,
    Landmark.TIBIA_PROXIMAL_SHAFT_UPPER,
    Landmark.TIBIA_PROXIMAL_SHAFT_LOWER,
    Landmark.TIBIA_MIDDLE_SHAFT_UPPER,
    Landmark.TIBIA_MIDDLE_SHAFT_LOWER,
    Landmark.TIBIA_DISTAL_SHAFT_UPPER,
    Landmark.TIBIA_DISTAL_SHAFT_LOWER,
    Landmark.ANKLE_CENTRE,
)
DOWN_THE_LEG = (
    Landmark.FEMORAL_HEAD_CENTRE,
    Landmark.FEMUR_KNEE_CENTRE,
    Landmark.ANKLE_CENTRE,
)
"""Chains of landmarks, each marked above the next on any film of a leg, however deformed."""

MEDIAL_THEN_LATERAL = (
    (Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
    (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
    (Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
)
ANTERIOR_THEN_POSTERIOR = (
    (Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR, Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR),
    (Landmark.PLATEAU_ANTERIOR, Landmark.PLATEAU_POSTERIOR),
    (Landmark.PLAFOND_ANTERIOR, Landmark.PLAFOND_POSTERIOR),
)
BORDERS = {
    Projection.FRONTAL: (Border.MEDIAL, Border.LATERAL),
    Projection.SAGITTAL: (Border.ANTERIOR, Border.POSTERIOR),
}


def require_consistent_marks(
    marks: Mapping[Side, Mapping[Landmark, Point]],
    *,
    projection: Projection,
    width_px: int,
    height_px: int,
    right_side_at_left: bool,
    anterior_at_left: bool,
) -> None:
    """Refuse landmarks outside the image, of the other projection, upside down, or on the wrong side.

    Raises
    ------
    OutOfRange
        A landmark outside the image, or one that this projection does not show.
    Contradiction
        Two landmarks whose order on the film cannot be true.
    """
    for side, points in marks.items():
        for refusals in (
            _outside(side, points, width_px, height_px),
            _not_shown(side, points, projection),
            _upside_down(side, points),
            _across(
                side,
                points,
                pairs=MEDIAL_THEN_LATERAL,
                # The lateral side of the right leg faces the viewer's side on which the right leg stands.
                first_at_left=(side is Side.LEFT) == right_side_at_left,
                setting="right_side_at",
            )
            if projection is Projection.FRONTAL
            else _across(
                side,
                points,
                pairs=ANTERIOR_THEN_POSTERIOR,
                first_at_left=anterior_at_left,
                setting="anterior_at",
            ),
        ):
            for refusal in refusals:
                raise refusal
    if projection is Projection.FRONTAL:
        for refusal in _legs_exchanged(marks[Side.RIGHT], marks[Side.LEFT], right_side_at_left):
            raise refusal


def require_wall_on_film(
    x_px: tuple[float, ...],
    y_px: tuple[float, ...],
    *,
    border: Border,
    projection: Projection,
    width_px: int,
    height_px: int,
    where: str,
) -> None:
    """Refuse a traced wall that leaves the image, runs upward, or bounds a side this projection hides."""
    for index, point in enumerate(zip(x_px, y_px, strict=True)):
        if not _inside(point, width_px, height_px):
            raise OutOfRange(
                f"point {index} of the wall lies at {point[0]:g}, {point[1]:g} px, outside the image of "
                f"{width_px} × {height_px} px.",
                where=f"{where}.{_offending_axis(point, width_px)}[{index}]",
                next_step="Trace the wall again in pixels of this image.",
            )
    if y_px[-1] <= y_px[0]:
        raise Contradiction(
            f"the wall starts at y = {y_px[0]:g} px and ends at {y_px[-1]:g} px; it must run down the film.",
            where=f"{where}.y_px",
            next_step="List its points from proximal to distal.",
        )
    if border not in BORDERS[projection]:
        raise Contradiction(
            f"{border} wall on a {projection} film, expected {' or '.join(BORDERS[projection])}.",
            where=f"{where}.border",
            next_step="Correct the border, or the projection of the film.",
        )


def _inside(point: Point, width_px: int, height_px: int) -> bool:
    # The origin is the centre of the top left pixel, so the image reaches half a pixel beyond it.
    return -0.5 <= point[0] <= width_px - 0.5 and -0.5 <= point[1] <= height_px - 0.5


def _offending_axis(point: Point, width_px: int) -> str:
    return "y_px" if -0.5 <= point[0] <= width_px - 0.5 else "x_px"


def _outside(
    side: Side, points: Mapping[Landmark, Point], width_px: int, height_px: int
) -> Iterator[LimbwrightError]:
    wrong = [name for name, point in points.items() if not _inside(point, width_px, height_px)]
    for name in wrong:
        point = points[name]
        others = f" (and {len(wrong) - 1} more of this leg)" if len(wrong) > 1 else ""
        yield OutOfRange(
            f"{plain_words(name)} lies at {point[0]:g}, {point[1]:g} px, outside the image of "
            f"{width_px} × {height_px} px{others}.",
            where=f"{side}.{name}.{_offending_axis(point, width_px)}",
            next_step="Give landmarks in pixels of this image, counted from its top left corner.",
        )


def _not_shown(
    side: Side, points: Mapping[Landmark, Point], projection: Projection
) -> Iterator[LimbwrightError]:
    for name in points:
        if not shown_in(name, projection):
            yield OutOfRange(
                f"{plain_words(name)} is not marked on {projection} films.",
                where=f"{side}.{name}",
                next_step="Move it to the film of the other projection, or correct the projection.",
            )


def _upside_down(side: Side, points: Mapping[Landmark, Point]) -> Iterator[LimbwrightError]:
    for chain in (DOWN_THE_LEG, DOWN_THE_FEMUR, DOWN_THE_TIBIA):
        marked = [name for name in chain if name in points]
        for upper, lower in combinations(marked, 2):
            if points[lower][1] <= points[upper][1]:
                yield Contradiction(
                    f"{plain_words(lower)} (y = {points[lower][1]:g} px) does not lie below "
                    f"{plain_words(upper)} (y = {points[upper][1]:g} px); y runs down the film.",
                    where=f"{side}.{lower}.y_px",
                    next_step="Exchange the two points, or turn the film so that the hip is at the top.",
                )


def _across(
    side: Side,
    points: Mapping[Landmark, Point],
    *,
    pairs: tuple[tuple[Landmark, Landmark], ...],
    first_at_left: bool,
    setting: str,
) -> Iterator[LimbwrightError]:
    for first, second in pairs:
        if first not in points or second not in points:
            continue
        left, right = (first, second) if first_at_left else (second, first)
        if not points[left][0] < points[right][0]:
            yield Contradiction(
                f"{plain_words(first)} (x = {points[first][0]:g} px) and {plain_words(second)} "
                f"(x = {points[second][0]:g} px) of the {side} leg are exchanged, or {setting} is wrong.",
                where=f"{side}.{first}.x_px",
                next_step=f"Exchange the two points, or correct {setting}.",
            )


def _legs_exchanged(
    right: Mapping[Landmark, Point], left: Mapping[Landmark, Point], right_side_at_left: bool
) -> Iterator[LimbwrightError]:
    for name in right:
        if name in left and (right[name][0] < left[name][0]) != right_side_at_left:
            yield Contradiction(
                f"{plain_words(name)} of the right leg (x = {right[name][0]:g} px) and of the left leg "
                f"(x = {left[name][0]:g} px) are exchanged, or right_side_at is wrong.",
                where=f"right.{name}.x_px",
                next_step="Exchange the legs, or correct right_side_at.",
            )
