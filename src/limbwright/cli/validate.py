"""`limbwright validate CASE`: is the case file sound, and how to mend it when not."""

from pathlib import Path

import click

from limbwright.case.problem import UnreadableCase
from limbwright.cli import exit_code, load, options, show
from limbwright.interop.plain import finding_plain


@click.command("validate")
@options.case
@options.as_json
def command(case: Path, json_: bool) -> None:
    """Check the case file CASE: every problem with its place, its value and how to mend it."""
    try:
        subject = load.case_at(case)
    except UnreadableCase as refusal:
        problems = [
            {"path": p.path, "value": p.value, "found": p.found, "next": p.next_step}
            for p in refusal.problems
        ]
        if json_:
            show.as_json({"sound": False, "problems": problems})
        else:
            show.table(
                f"{len(problems)} problem(s) in {case}",
                ("where", "value", "found", "what to do"),
                [tuple(p.values()) for p in problems],
            )
        raise SystemExit(exit_code.REFUSED) from None
    _, findings = load.headers_of(subject, case)
    if json_:
        show.as_json({"sound": True, "case": subject.id, "findings": [finding_plain(f) for f in findings]})
        return
    show.console().print(f"Sound: case {subject.id}, {len(subject.films)} films.", markup=False)
    show.findings(findings)
