"""Words that no command understands, told like every other fault: what was given, what is allowed, what to try."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperGroup

from lightsim.cli.failures import BAD_INPUT, complain

# The class of all of them in every version of typer, the oldest of which take it from another package.
_MISUSE: type[Exception] = typer.BadParameter.__mro__[1]


class Commands(TyperGroup):
    """The commands of the program."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Options before the command."""
        if not args:
            return super().parse_args(ctx, args)
        return list(_plainly(lambda: super(Commands, self).parse_args(ctx, args)))

    def invoke(self, ctx: Any) -> Any:
        """The command and what follows it."""
        return _plainly(lambda: super(Commands, self).invoke(ctx))


def _plainly(run: Callable[[], Any]) -> Any:
    try:
        return run()
    except _MISUSE as error:
        from lightsim.rig.errors import paragraph, told

        complain(paragraph(told("", **_parts(error))))
        raise typer.Exit(BAD_INPUT) from None


def _parts(error: Any) -> dict[str, str]:
    """What is wrong, what is allowed and what to try."""
    from lightsim.rig.errors import closest, shorten

    context = error.ctx
    program = context.command_path if context is not None else "lightsim"
    commands = list(getattr(getattr(context, "command", None), "commands", {}))
    options = [name for each in getattr(getattr(context, "command", None), "params", []) for name in each.opts]
    options = [*(name for name in options if name.startswith("--")), "--help"]
    message = shorten(str(getattr(error, "message", "") or ""), 120).rstrip(". ")
    extra = message.rpartition(" (")[2].rstrip(")") if "extra argument" in message else ""
    named = getattr(error, "option_name", None)
    if named and "argument" in message:
        return {"what": f"{named} stands alone", "allowed": f"{named} and a value", "remedy": "a value after it"}
    wrong = named
    if extra.startswith("--"):  # where a command lets unknown options pass, because numbers may be negative
        wrong = extra.split()[0]
    if wrong:
        near = closest(wrong, options)
        return {"what": f"{wrong}: there is no such option", "allowed": ", ".join(options), "remedy": near or "--help"}
    if commands:
        word = message.partition("'")[2].partition("'")[0]
        near = closest(word, commands)
        return {
            "what": f'"{word}": there is no such command' if word else message,
            "allowed": ", ".join(commands),
            "remedy": f"{program} {near or commands[0]}",
        }
    usage = f"what {program} --help lists"
    if extra:
        return {"what": f"{extra}: this is more than {program} takes", "allowed": usage, "remedy": "leaving it out"}
    missing = getattr(error, "param", None)
    if missing is not None and type(error).__name__.startswith("Missing"):
        names = [str(each.metavar or each.name).strip("[]{}") for each in context.command.params if _is_needed(each)]
        name = str(missing.metavar or missing.name).strip("[]{}")
        words = f"{program} {' '.join(names)}"
        return {"what": f"{name} is missing", "allowed": words, "remedy": f"{program} --help"}
    return {"what": message or "this cannot be understood", "allowed": usage, "remedy": f"{program} --help"}


def _is_needed(parameter: Any) -> bool:
    return bool(parameter.required) and parameter.param_type_name == "argument"
