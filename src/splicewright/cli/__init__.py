"""The command line: one module per subject, loaded only when it is called."""

from __future__ import annotations

import gc
from importlib import import_module

import click

_GROUPS = {
    "check": "files",
    "compare": "measurement",
    "background": "background",
    "explain": "explain",
    "listen": "incoming",
    "loads": "joint",
    "measure": "photographs",
    "new": "files",
    "photo-trial": "photographs",
    "plan": "plan",
    "quote": "plan",
    "register": "register",
    "report": "job",
    "scale-sheets": "photographs",
    "schema": "files",
    "serve": "serve",
}
_HELP = {
    "assess": "Say what a damaged joint can still carry.",
    "at-rest": "Say what the stopped belt pulls at each stage, and what must hold.",
    "check": "Say what a file lacks, what was assumed, and what to measure next.",
    "compare": "Compare what was measured with what was predicted.",
    "decide": "Compare repair, re-make, insert and replace.",
    "choose": "Choose the joints to renew in a shutdown.",
    "background": "Do long work: imports, bundles of packs, forecasts.",
    "explain": "Say how any number of a plan came about.",
    "fleet": "List what is due, worst first, and why.",
    "loads": "Say what each plate carries, the best end curve, how accurately it must be made.",
    "listen": "Record readings that a broker (MQTT) sends.",
    "life": "Say how long joints last, and which fails next.",
    "measure": "Measure a belt end, its plates or a joint by photograph.",
    "new": "Write a commented file to fill in.",
    "photo-trial": "Compare measuring by photograph with a steel rule.",
    "planner": "Say what to do now and at the stops, what to order, where to look.",
    "plan": "Plan a joint; write crew pack, dossier, drawings and templates.",
    "quote": "Price a planned job by your own prices.",
    "register": "Keep the register: back up, restore, verify, import, export.",
    "report": "Write the report a customer gets after a job.",
    "scale-sheets": "Write the sheets that lie on the belt in a photograph.",
    "schema": "Print the JSON Schema of a file.",
    "serve": "Serve the web app: the register on phones and desks.",
    "tension": "Study a conveyor: every load case, second methods, what is not known.",
    "square": "Square a belt end from measured points, and judge the cut.",
    "shutdown": "Say whether the work fits the shutdown, and what holds it up.",
    "stock": "Say how many kits, pins and belt pieces to hold.",
    "wear": "Say when worn places meet their limits, and which goes first.",
    "when": "Say how often to inspect, and at what age to renew.",
}


class _Lazy(click.Group):
    """Commands by name; the module of a command is imported when it runs, not for --help."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All commands, sorted."""
        return sorted(_HELP)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, imported now."""
        if cmd_name not in _HELP:
            return None
        if cmd_name not in _GROUPS:
            from splicewright.cli.questions import question_command

            return question_command(cmd_name)
        module = import_module(f"splicewright.cli.{_GROUPS[cmd_name]}")
        command: click.Command = getattr(module, f"{cmd_name.replace('-', '_')}_command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, _HELP[name]) for name in self.list_commands(ctx)])


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="splicewright", prog_name="splicewright")
def main() -> None:
    """Plan the joint of a conveyor belt, and say how long it lasts and when to come back."""


def run() -> None:
    """Run one command in a process of its own: what `splicewright` on the PATH calls."""
    # It lives for a second or two: collecting its garbage would take a tenth of that.
    gc.disable()
    main(prog_name="splicewright")
