"""The command line in full: options, help, and what is said of a mistake."""

from typing import Annotated

import typer

from rampwarden.cli.exit_status import UNUSABLE
from rampwarden.cli.menu import COMMANDS
from rampwarden.cli.version import print_version
from rampwarden.errors import MistypedError

_HELP = "Watches a crucible's heat and says in time when it leaves its schedule. It only watches: it is no interlock."


def call(arguments: list[str]) -> object:
    """Call what is typed; gives what the command returns, or the exit status of what has been said already.

    Raises `MistypedError` for what cannot be called so, `KeyboardInterrupt` when a person breaks off, and what the
    command raises.
    """
    try:
        return application(arguments)(args=arguments, prog_name="rampwarden", standalone_mode=False)
    except typer.TyperException as error:
        sentence = _sentence(error)
        # Without a sentence it has been said already: a command without arguments shows its help.
        if not sentence:
            return UNUSABLE
        raise MistypedError(f"{sentence} (see rampwarden --help)") from error
    except typer.Abort:
        raise KeyboardInterrupt from None


def application(arguments: list[str]) -> typer.Typer:
    """Give the application, with the one command that is called, or with every name where a person looks for one."""
    app = typer.Typer(
        name="rampwarden",
        help=_HELP,
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_options)
    called = next((argument for argument in arguments if not argument.startswith("-")), "")
    if called in COMMANDS:
        command = COMMANDS[called].load()
        if isinstance(command, typer.Typer):
            app.add_typer(command, name=called)
        else:
            app.command(called, **COMMANDS[called].options)(command)
        return app
    for name, listed in COMMANDS.items():
        app.command(name, help=listed.line, rich_help_panel=listed.when, **listed.options)(_stand_in)
    return app


def _stand_in() -> None:
    """Stand for a command in a list of names; what is called has been imported instead."""


def _print_version(wanted: bool) -> None:
    if wanted:
        print_version()
        raise typer.Exit


def _options(
    version_wanted: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def _sentence(error: Exception) -> str:
    format_message = getattr(error, "format_message", None)
    # Choices come one a line, behind tabs; here they are one sentence.
    return " ".join(str(format_message() if format_message else error).split())
