"""The nails and screws a surgeon can order."""

from collections import Counter
from dataclasses import dataclass
from difflib import get_close_matches

from limbwright.error import Contradiction, Missing
from limbwright.implant.nail import Direction, Nail
from limbwright.implant.screw import Purpose, ScrewType
from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue(Value):
    """A catalogue that its owner keeps in a file."""

    title: str
    """Title shown wherever its nails are named."""
    note: str = ""
    """The owner's note: where the figures come from, who checked them, when."""
    invented: bool = False
    """True when the implants are made up for demonstration; nothing in it can be ordered."""
    nails: tuple[Nail, ...] = ()
    """The nails, in the order of the file."""
    screws: tuple[ScrewType, ...] = ()
    """The screws and pins, in the order of the file."""

    def __post_init__(self) -> None:
        for kind, names in (
            ("nails", [n.name for n in self.nails]),
            ("screws", [s.name for s in self.screws]),
        ):
            twice = [name for name, count in Counter(names).items() if count > 1]
            if twice:
                raise Contradiction(
                    f"{len(twice)} name(s) stand twice among the {kind}: {', '.join(map(repr, twice[:5]))}.",
                    where=f"catalogue {self.title!r}",
                    next_step="Give every size its own name; a plan is ordered by name.",
                )

    def nails_for(self, bone: Bone, direction: Direction) -> tuple[Nail, ...]:
        """Nails for a bone and way of entry, thinnest first, then shortest."""
        fitting = (n for n in self.nails if n.bone is bone and n.direction is direction)
        return tuple(sorted(fitting, key=lambda n: (n.thick_diameter_mm, n.length_mm, n.stroke_mm)))

    def nail(self, name: str) -> Nail:
        """The nail of that name.

        Raises
        ------
        Missing
            If the catalogue has none; the message offers the nearest names.
        """
        for nail in self.nails:
            if nail.name == name:
                return nail
        near = get_close_matches(name, [n.name for n in self.nails], n=3, cutoff=0.3)
        raise Missing(
            f"there is no nail {name!r} among {len(self.nails)}.",
            where=f"catalogue {self.title!r}",
            next_step=f"Nearest names: {', '.join(near)}." if near else "Add it to the catalogue file.",
        )

    def screws_for(self, purpose: Purpose) -> tuple[ScrewType, ...]:
        """Screws or pins for a purpose, thinnest first."""
        return tuple(
            sorted((s for s in self.screws if s.purpose is purpose), key=lambda s: (s.diameter_mm, s.name))
        )
