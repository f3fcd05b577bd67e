"""Formulas that outcomes are compared by: accuracy, precision, healing, distraction and maturation index.

| Formula | Source |
|---|---|
| accuracy = 100 (1 - abs(achieved - planned) / planned) | Kirane et al. 2014, formula from memory |
| precision = 100 (1 - SD of measured / prescribed) | Kirane et al. 2014, formula from memory and uncertain |
| healing index = days from operation to consolidation / cm | common to all series |
| distraction index = days from operation to the end of distraction / cm | common practice, no source |
| maturation index = days from the end of distraction to consolidation / cm | common practice, no source |
"""

import statistics

from limbwright.error import Refused
from limbwright.quantity import require_within

MM_PER_CM = 10.0
LEAST_GAIN_MM = 1.0
FEWEST_READINGS = 3


def accuracy_percent(*, planned_mm: float, achieved_mm: float) -> float:
    """How near the length came to the plan, 100 when it is the same. [%]"""
    require_within(
        "planned length", planned_mm, LEAST_GAIN_MM, 250, "mm", next_step="Give the plan's length."
    )
    return 100 * (1 - abs(achieved_mm - planned_mm) / planned_mm)


def precision_percent(measured_over_prescribed: tuple[float, ...]) -> float:
    """How alike measured and prescribed length stay from film to film, 100 when their ratio is constant. [%]

    Raises
    ------
    Refused
        With fewer than three films: a spread of two is chance.
    """
    if len(measured_over_prescribed) < FEWEST_READINGS:
        raise Refused(
            f"{len(measured_over_prescribed)} films with a length, expected {FEWEST_READINGS} or more.",
            where="precision",
            next_step="Leave precision out, or enter the lengths of more films.",
        )
    return 100 * (1 - statistics.stdev(measured_over_prescribed))


def days_per_cm(*, days: float, gained_mm: float) -> float:
    """Days for each centimetre gained: healing, distraction or maturation index, by what the days count.

    Raises
    ------
    OutOfRange
        With less than a millimetre gained.
    """
    require_within(
        "length gained",
        gained_mm,
        LEAST_GAIN_MM,
        250,
        "mm",
        next_step="An index needs a length that was gained.",
    )
    require_within("days", days, 0, 5000, "d", next_step="Check the dates.")
    return days / (gained_mm / MM_PER_CM)
