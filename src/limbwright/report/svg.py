"""The few SVG elements that figures are made of; coordinates are written with two decimals."""

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

Points = Iterable[tuple[float, float]]


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) >= 0.005 else "0"


def _style(style: dict[str, str | float]) -> str:
    return "".join(
        f" {name.replace('_', '-')}={quoteattr(value if isinstance(value, str) else _n(value))}"
        for name, value in style.items()
    )


def points(places: Points) -> str:
    """A list of points as an attribute holds them."""
    return " ".join(f"{_n(x)},{_n(y)}" for x, y in places)


def line(places: Points, **style: str | float) -> str:
    """An open line."""
    return f'<polyline points="{points(places)}" fill="none"{_style(style)}/>'


def area(places: Points, **style: str | float) -> str:
    """A closed outline."""
    return f'<polygon points="{points(places)}"{_style(style)}/>'


def circle(x: float, y: float, radius: float, **style: str | float) -> str:
    """A circle."""
    return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{_style(style)}/>'


def box(*, x: float, y: float, width: float, height: float, **style: str | float) -> str:
    """A rectangle."""
    return f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"{_style(style)}/>'


def words(x: float, y: float, text: str, **style: str | float) -> str:
    """A line of text."""
    return f'<text x="{_n(x)}" y="{_n(y)}"{_style(style)}>{escape(text)}</text>'


def clip(name: str, shape: str) -> str:
    """A named clip path."""
    return f'<clipPath id="{name}">{shape}</clipPath>'


def group(content: Iterable[str], **style: str | float) -> str:
    """Elements that share a style or a transform."""
    return f"<g{_style(style)}>{''.join(content)}</g>"


def image(uri: str, *, width: float, height: float, transform: str) -> str:
    """A picture whose pixel (0, 0) has its centre at the origin before the transform."""
    return (
        f'<image href="{uri}" x="-0.5" y="-0.5" width="{_n(width)}" height="{_n(height)}" '
        f'preserveAspectRatio="none" transform="{transform}"/>'
    )


def document(width: float, height: float, content: Iterable[str]) -> bytes:
    """A whole SVG document."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
        f'width="{_n(width)}" height="{_n(height)}" font-family="Source Sans 3">'
    )
    return (head + "".join(content) + "</svg>").encode()
