"""`tilegen kit`: which tiles, how many."""

from __future__ import annotations

import sys

from tilegen.commands.common import Measures, open_plan
from tilegen.commands.tables import kit_table, show
from tilegen.errors import InputError
from tilegen.lengths import Units
from tilegen.plans.record import kit_json


def run_kit(plans: list[str], measures: Measures, *, units: Units, as_json: bool, quiet: bool) -> None:
    """Count one plan's kit and show it."""
    if len(plans) > 1:
        raise InputError(f"{len(plans)} plans", expected="one plan", cure="count them one at a time")
    kit = open_plan(plans[0], measures).kit
    if as_json:
        for text in kit_json(kit):
            sys.stdout.write(text)
        sys.stdout.write("\n")
    elif not quiet:
        show(kit_table(kit, units))
