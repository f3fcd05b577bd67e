"""The catalogue that comes with the package: invented implants for trying it out."""

from functools import cache
from importlib.resources import files

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.reading import catalogue_from_toml


@cache
def shipped_catalogue() -> Catalogue:
    """The invented catalogue; nothing in it can be ordered, and its title and note say so."""
    return catalogue_from_toml(shipped_catalogue_text())


def shipped_catalogue_text() -> str:
    """Its file, for an owner to copy and replace with the nails that can be ordered."""
    return files(__name__).joinpath("catalogue.toml").read_text(encoding="utf-8")
