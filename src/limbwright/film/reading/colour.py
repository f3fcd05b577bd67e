"""Grey of a colour picture, when it is a grey film stored as colour; photographs are refused.

A photograph of a film or a screen is distorted by perspective, so that angles measured on it are wrong; a
colour picture is therefore only accepted when nearly all its pixels are grey.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Unreadable
from limbwright.film.reading import limits
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding, Number

_BAND_ROWS = 256


def grey_of_colour(colour: NDArray[Any], *, name: str) -> tuple[NDArray[np.uint8], tuple[Finding, ...]]:
    """Grey of a colour picture.

    Parameters
    ----------
    colour : (rows, columns, 3) uint8
        Red, green, blue.
    name : str
        Name of the film, for messages.

    Returns
    -------
    (rows, columns) uint8, findings
        The green channel where the channels agree, the brightest channel on coloured marks.

    Raises
    ------
    Unreadable
        When more than the permitted share of pixels is coloured.
    """
    grey = np.empty(colour.shape[:2], dtype=np.uint8)
    coloured = 0
    identical = True
    for top in range(0, colour.shape[0], _BAND_ROWS):
        band = colour[top : top + _BAND_ROWS]
        brightest, darkest = band.max(axis=2), band.min(axis=2)
        spread = brightest - darkest
        marked = spread > limits.GREY_TOLERANCE
        coloured += int(np.count_nonzero(marked))
        identical = identical and not spread.any()
        grey[top : top + _BAND_ROWS] = np.where(marked, brightest, band[..., 1])
    share = coloured / grey.size
    if share > limits.MAX_COLOURED_SHARE:
        raise Unreadable(
            f"the picture is in colour ({100 * share:.0f} % of its pixels): a photograph or a drawing, whose "
            "perspective and grey values cannot be measured.",
            where=name,
            next_step="Export the radiograph itself as DICOM or as a grey picture.",
        )
    if coloured:
        words = f"{name}: {100 * share:.2g} % of the pixels are coloured marks."
        numbers = (Number(name="coloured share", value=share, unit=""),)
        return grey, (remark("film-coloured-marks", words, numbers=numbers),)
    how = "equal" if identical else "equal up to the noise of colour compression"
    return grey, (remark("film-colour-was-grey", f"{name}: the three colour channels are {how}."),)
