"""The `limbwright` command: one file per sub-command, loaded only when it is run.

Exit codes: 0 done; 2 the command line was wrong; 3 the input was refused (the message says what, where and
what to do); 4 the work was done but it carries a `stop` finding.
"""

from importlib import import_module
from keyword import iskeyword

import click

from limbwright import __version__
from limbwright.case.caution import CAUTION
from limbwright.cli import exit_code
from limbwright.error import LimbwrightError

COMMANDS = {
    "audit": "audit all cases of a practice: healing, accuracy, drift, complications",
    "backup": "copy a practice into a folder and check the copy",
    "course": "where a leg stands after the operation, where it is heading, and what to weigh",
    "demo": "plan the invented demo cases and write their reports",
    "export": "write cases, or a whole practice, as one ZIP file",
    "film": "find ball, walls, joint lines, nail and new bone on a film from rough clicks",
    "import": "take in the ZIP file that an export wrote",
    "letter": "write the closing letter of a case as PDF",
    "forecast": "forecast the drift of every lengthened bone, and weigh blocking screws",
    "measure": "measure both legs from the films of a case",
    "outcome": "what came of a treatment against what was planned",
    "plan": "plan the operation of a case",
    "report": "write the operation plan of a case as PDF",
    "restore": "make a practice out of a backup",
    "schedule": "lay out the lengthening of a case day by day",
    "serve": "serve the workbench to the browser",
    "sheet": "write the patient's page and diary of a case as PDF",
    "user": "who may sign in to a server, and what they may do there",
    "visit": "read a follow-up film for a visit from rough clicks",
    "validate": "check a case file and say how to mend it",
}


class LazyGroup(click.Group):
    """Lists its commands without importing them, so that `--help` answers at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the module of one command."""
        if cmd_name not in COMMANDS:
            return None
        # A word of Python's own cannot be the name of a module: `import` is in import_.py.
        module = f"{cmd_name}_" if iskeyword(cmd_name) else cmd_name
        command = import_module(f"limbwright.cli.{module}").command
        if not isinstance(command, click.Command):
            raise TypeError(f"limbwright.cli.{cmd_name}.command is not a click command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table, importing none of them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=LazyGroup, epilog=CAUTION, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="limbwright")
def cli() -> None:
    """Plan limb lengthening and deformity correction over a motorised lengthening nail."""


def main() -> None:
    """Run the command line; a refused input becomes a plain message and exit code 3."""
    try:
        cli()
    except LimbwrightError as error:
        from limbwright.cli.show import refuse

        refuse(error)
        raise SystemExit(exit_code.REFUSED) from None
