"""A film as a small picture that a printed figure can carry."""

from base64 import b64encode
from dataclasses import dataclass
from io import BytesIO

from limbwright.film.reading.picture import Picture
from limbwright.film.reading.window import grey8

# At two printed pixels per millimetre of leg, a whole leg on a page loses nothing the eye could see.
PIXELS_PER_MM = 2.0
JPEG_QUALITY = 82


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmImage:
    """A film as JPEG, smaller than the original by `shrunk_by`."""

    jpeg: bytes
    width: int
    height: int
    shrunk_by: float
    """Original pixels per pixel of this picture."""

    def data_uri(self) -> str:
        """The picture as an address that an SVG can hold."""
        return "data:image/jpeg;base64," + b64encode(self.jpeg).decode("ascii")


def film_image(picture: Picture, *, mm_per_px: float | None) -> FilmImage:
    """Shrink a film for print.

    Parameters
    ----------
    picture : Picture
        The film.
    mm_per_px : float, optional
        Its scale; without one the film is shrunk to 2,000 rows. [mm/px]
    """
    from PIL import Image

    grey = Image.fromarray(grey8(picture))
    wanted = 1 / PIXELS_PER_MM
    shrink = max(1.0, wanted / mm_per_px if mm_per_px else picture.rows / 2000)
    size = max(1, round(picture.columns / shrink)), max(1, round(picture.rows / shrink))
    small = grey.resize(size, Image.Resampling.BOX)
    held = BytesIO()
    small.save(held, "JPEG", quality=JPEG_QUALITY)
    return FilmImage(jpeg=held.getvalue(), width=size[0], height=size[1], shrunk_by=picture.columns / size[0])
