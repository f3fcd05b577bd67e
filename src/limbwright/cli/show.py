"""How the command line speaks: plain messages, tables, findings with a shape and a word, JSON."""

import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.table import Table

from limbwright.case.caution import CAUTION
from limbwright.cli import exit_code
from limbwright.error import LimbwrightError
from limbwright.finding import Finding, Severity, worst

# The shape says the severity without its colour.
_SHAPES = {Severity.NOTE: "○", Severity.CAUTION: "△", Severity.STOP: "⯃"}
_COLOURS = {Severity.NOTE: "bright_black", Severity.CAUTION: "yellow", Severity.STOP: "red"}
# Wide enough for a measurement table when the output is not a terminal.
_WIDTH_WITHOUT_TERMINAL = 120


def console(*, error: bool = False) -> Console:
    """A console on standard output or standard error; plain text when it is not a terminal."""
    stream = sys.stderr if error else sys.stdout
    return Console(file=stream, width=None if stream.isatty() else _WIDTH_WITHOUT_TERMINAL, highlight=False)


def refuse(error: LimbwrightError) -> None:
    """Say on standard error what was found, where, and what to do next."""
    out = console(error=True)
    out.print("[red]⯃ Refused[/red]", end=" ")
    out.print(error.where or "input", style="bold", markup=False)
    out.print(f"  Found: {error.found}", markup=False)
    out.print(f"  Next:  {error.next_step}", markup=False)


def table(
    title: str, header: Sequence[str], rows: Iterable[Sequence[str]], *, right: Iterable[int] = ()
) -> None:
    """Print a table on standard output; `right` lists the columns of numbers."""
    grid = Table(title=title, title_justify="left", title_style="bold", header_style="bright_black", box=None)
    numbers = set(right)
    for index, name in enumerate(header):
        grid.add_column(name, justify="right" if index in numbers else "left", overflow="fold")
    for row in rows:
        grid.add_row(*row)
    out = console()
    out.print(grid)
    out.print()


def findings(items: Iterable[Finding]) -> None:
    """Print findings, each with a shape, a word, its source and what can be done."""
    out = console()
    for item in items:
        colour = _COLOURS[item.severity]
        out.print(f"[{colour}]{_SHAPES[item.severity]} {item.severity.value}[/{colour}]", end="  ")
        out.print(item.words, markup=False)
        if item.next_step:
            out.print(f"    {item.next_step}", markup=False)
        out.print(f"    source: {item.source}", style="bright_black", markup=False)
    out.print()


def caution() -> None:
    """Print the caution that goes with everything that could steer treatment."""
    console().print(CAUTION, style="red", markup=False)


def as_json(content: dict[str, Any]) -> None:
    """Print one JSON object, the caution first."""
    sys.stdout.write(json_text(content))


def json_text(content: dict[str, Any]) -> str:
    """One JSON object as text, the caution first."""
    return json.dumps({"caution": CAUTION, **content}, indent=2, ensure_ascii=False) + "\n"


@contextmanager
def progress(words: str) -> Iterator[None]:
    """Show that work is going on, on standard error and only on a terminal."""
    out = console(error=True)
    if not out.is_terminal:
        yield
        return
    with out.status(words):
        yield


def exit_for(findings: tuple[Finding, ...]) -> None:
    """Leave with the code for a `stop` finding when there is one."""
    if worst(findings) is Severity.STOP:
        raise SystemExit(exit_code.STOP)
