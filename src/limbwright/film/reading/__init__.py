"""Bytes of a film file in, a typed picture and header facts out. Opens no file, reads no clock.

`read_picture` decodes; `read_facts` looks at the header only. The libraries that know the file formats are
imported when the first file is read, so that importing this room costs nothing.
"""

from limbwright.film.reading.development import Development, development_of
from limbwright.film.reading.facts import FileKind, HeaderFacts, MarkedSide
from limbwright.film.reading.picture import Curve, Meaning, Picture, Rescale, Window, WindowShape
from limbwright.film.reading.read import ReadFacts, ReadFilm, read_facts, read_picture
from limbwright.film.reading.window import Region, grey8

__all__ = [
    "Curve",
    "Development",
    "FileKind",
    "HeaderFacts",
    "MarkedSide",
    "Meaning",
    "Picture",
    "ReadFacts",
    "ReadFilm",
    "Region",
    "Rescale",
    "Window",
    "WindowShape",
    "development_of",
    "grey8",
    "read_facts",
    "read_picture",
]
