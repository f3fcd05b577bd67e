"""Numbers as people read them: rounded to what is known, a word for the direction, the unit."""

from limbwright.limb.norm import Norm
from limbwright.limb.reading import Reading
from limbwright.plan.uncertainty.values import PlanUncertainty
from limbwright.quantity import Directed, Measured, Sense

_SYMBOLS = {"deg": "°"}


def rounded(value: float, unit: str) -> str:
    """0.1 degree, whole millimetres and the like."""
    if unit == "deg":
        return f"{value:.1f}°"
    return f"{value:.0f} {unit}".rstrip()


def said(value: Directed) -> str:
    """A magnitude with its word."""
    number = rounded(value.magnitude, value.unit)
    return number if value.direction is Sense.NONE else f"{number} {value.direction}"


def reading(item: Reading | None) -> str:
    """A reading with its 95 % half-width; a dash when it was not measured."""
    if item is None:
        return "–"
    return f"{said(item.shown())} ± {1.96 * item.value.sd:.{1 if item.value.unit == 'deg' else 0}f}"


def measured(item: Measured | None, words: Directed | None) -> str:
    """A measured difference with its word and 95 % half-width; a dash when there is none."""
    if item is None or words is None:
        return "–"
    return f"{said(words)} ± {1.96 * item.sd:.{1 if item.unit == 'deg' else 0}f}"


def norm_range(norm: Norm | None, unit: str) -> str:
    """The normal range; a dash when there is none."""
    if norm is None:
        return "–"
    if norm.low is None or norm.high is None:
        return f"mean {norm.mean:g}"
    return f"{norm.low:g} to {norm.high:g}{_SYMBOLS.get(unit, ' ' + unit)}"


def fine(value: Directed) -> str:
    """A magnitude to a tenth with its word, for distributions."""
    number = f"{value.magnitude:.1f}°" if value.unit == "deg" else f"{value.magnitude:.1f} {value.unit}"
    return number if value.direction is Sense.NONE else f"{number} {value.direction}"


_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")


def count(number: int) -> str:
    """A count as people read it; a very large one in powers of ten."""
    if number < 10_000_000:
        return f"{number:,}"
    size, power = f"{number:.1e}".split("e+")
    return f"{size} × 10{str(int(power)).translate(_RAISED)}"


def matters(sure: PlanUncertainty, result: str, most: int = 2) -> str:
    """What most of one result's spread comes from; what can be measured again is marked so."""
    return "; ".join(
        f"{m.name} {100 * m.total:.0f} %{' (measure again)' if m in sure.worth_measuring(result) else ''}"
        for m in [m for m in sure.matters if m.result == result][:most]
    )
