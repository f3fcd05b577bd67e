"""Typesetting: a typed page and its figures in, PDF bytes out. Deterministic: no clock, no system fonts."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from importlib.resources import as_file, files
from typing import TYPE_CHECKING

from limbwright.report.context import OperationPlanPage

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_TEMPLATES = ("common.typ",)


def operation_plan_pdf(page: OperationPlanPage, figures: Mapping[str, bytes]) -> bytes:
    """Typeset the operation plan.

    Parameters
    ----------
    page : OperationPlanPage
        Texts and numbers.
    figures : mapping of str to bytes
        SVG documents by the file names that the page's figures carry.

    Returns
    -------
    bytes
        A PDF 1.7 document; equal input gives equal bytes.
    """
    return typeset("operation_plan.typ", page, figures)


def typeset(template: str, page: "DataclassInstance", figures: Mapping[str, bytes] | None = None) -> bytes:
    """Typeset one of the package's templates.

    Parameters
    ----------
    template : str
        File name of the template.
    page : dataclass instance
        What the template reads as `sys.inputs.data`, in JSON.
    figures : mapping of str to bytes, optional
        Files that travel with it.
    """
    import typst

    folder = files("limbwright.report") / "templates"
    sources = {"main.typ": (folder / template).read_bytes(), **(figures or {})}
    sources |= {name: (folder / name).read_bytes() for name in _TEMPLATES}
    with as_file(files("limbwright.report") / "fonts") as fonts:
        # The library takes several sources by name; its type stub knows of one only.
        pdf: bytes = typst.compile(  # type: ignore[call-overload]
            sources,
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(asdict(page))},
            timestamp=0,
        )
    return pdf
