"""From grey values back to attenuation, where it is known how they were made."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.film.reading.picture import Meaning, Picture
from limbwright.quantity import Value

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Development(Value):
    """How attenuation became grey: grey = white * ((attenuation - low) / (high - low)) ** power."""

    low: float = 0.0
    """Attenuation shown as black."""
    high: float = 1.0
    """Attenuation shown as white."""
    power: float = 1.0
    """Power of the curve; 1 is linear in attenuation."""
    white: float = 1.0
    """Grey value of white."""
    in_light: bool = False
    """Grey is proportional to light at the detector and falls with attenuation; low, high, power unused."""
    absolute: bool = True
    """Whether low and high are attenuation itself, -ln(light); False where their unit is not known."""
    certain: bool = True
    """False where the film does not say how it was made, so that ratios are ratios of displayed grey."""

    def __post_init__(self) -> None:
        if not (self.high > self.low and self.power > 0 and self.white > 0):
            raise OutOfRange(
                f"attenuation {self.low:g} to {self.high:g}, power {self.power:g}, white {self.white:g}.",
                where="presentation of the film",
                next_step="Give a rising curve, or leave it out.",
            )

    def attenuation(self, grey: NDArray[Any]) -> Floats:
        """Attenuation of grey values, -ln(light) up to a constant where `absolute`; shape as given."""
        value = np.asarray(grey, dtype=np.float64)
        if self.in_light:
            return np.asarray(-np.log(np.clip(1.0 - value / self.white, 1e-6, None)))
        shade = np.clip(value / self.white, 0.0, None) ** (1.0 / self.power)
        return np.asarray(self.low + shade * (self.high - self.low))


def development_of(picture: Picture) -> Development:
    """What a picture's header says about its grey values; not certain where it says nothing usable.

    Notes
    -----
    `Picture.values` rise with attenuation whatever the file's polarity (MONOCHROME1 included), so no
    inversion is needed here. A picture in light was complemented: grey = white - light. A picture that is
    linear in attenuation does not say how many grey values one unit of attenuation takes.
    """
    white = float(2**picture.bits_stored - 1)
    if picture.meaning is Meaning.LINEAR_IN_ATTENUATION:
        return Development(high=white, white=white, absolute=False)
    if picture.meaning is Meaning.LINEAR_IN_INTENSITY:
        return Development(white=white, in_light=True)
    return Development(high=white, white=white, absolute=False, certain=False)
