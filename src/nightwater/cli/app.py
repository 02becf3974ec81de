"""The `nightwater` command."""

from __future__ import annotations

import sys

import typer

from nightwater.cli import (
    asbuilt_commands,
    audit_commands,
    capacity_commands,
    change_commands,
    coverage_commands,
    dismiss_commands,
    fixes_commands,
    ground_commands,
    hold_commands,
    image_commands,
    isolation_commands,
    keeping_commands,
    ledger_commands,
    level_commands,
    night_commands,
    photo_commands,
    pressure_commands,
    proposing_commands,
    rescue_commands,
    sum_commands,
    trim_commands,
    weather_commands,
)
from nightwater.cli.printing import NOTICES
from nightwater.findings import UserError

app = typer.Typer(
    name="nightwater",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help=(
        "Plan, prove and account for every night of golf-course irrigation.\n\n"
        "A round: new → survey → check → weather → need → plan → approve → sheet → morning → "
        "ledger. The tool advises; water starts only after a person confirms."
    ),
    epilog="Exit status: 0 done, 1 findings of severity error, 2 a mistake told in one sentence.",
)
for group in (
    ground_commands,
    dismiss_commands,
    proposing_commands,
    trim_commands,
    image_commands,
    photo_commands,
    weather_commands,
    night_commands,
    sum_commands,
    change_commands,
    hold_commands,
    rescue_commands,
    capacity_commands,
    pressure_commands,
    coverage_commands,
    fixes_commands,
    asbuilt_commands,
    isolation_commands,
    ledger_commands,
    level_commands,
    audit_commands,
    keeping_commands,
):
    group.add_to(app)


def main() -> None:
    """Run the command; a person's mistake ends with status 2 and one sentence."""
    try:
        app()
    except UserError as mistake:
        NOTICES.print(f"nightwater: {mistake}", style="bold", highlight=False, markup=False)
        sys.exit(2)


if __name__ == "__main__":
    main()
