"""Writes the help of every command into `command-line.md`.

    python docs/write_command_line.py

A test compares the page with the commands.
"""

from pathlib import Path

from click.testing import CliRunner

from limbwright.cli.main import COMMANDS, cli

PAGE = Path(__file__).with_name("command-line.md")
WIDTH = 88
INTRODUCTION = """# Command line

`limbwright COMMAND CASE` reads a [case file](case-file.md). Every command that prints text also prints
JSON with `--json`; numbers there carry their unit in the key and a direction as a word. Messages go to
standard error, results to standard output.

| exit code | meaning |
|---|---|
| 0 | done |
| 2 | the command line was wrong |
| 3 | the input was refused: the message says what, where, and what to do |
| 4 | the work was done, and it carries a `stop` finding |

Everything the commands do is equally a documented Python function: `limbwright.case.measured.measured_case`,
`limbwright.case.planned.planned_case`, `limbwright.course.schedule.schedule`,
`limbwright.report.operation_plan.printed_operation_plan`.
"""


def help_of(name: str) -> str:
    """What `limbwright NAME --help` prints."""
    shown = CliRunner().invoke(cli, [name, "--help"], prog_name="limbwright", terminal_width=WIDTH)
    if shown.exit_code != 0:
        raise SystemExit(shown.output)
    return "\n".join(line.rstrip() for line in shown.output.strip().splitlines())


def page() -> str:
    """The page as text."""
    parts = [INTRODUCTION]
    parts += [f"## `limbwright {name}`\n\n```text\n{help_of(name)}\n```\n" for name in COMMANDS]
    return "\n".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
