"""register: back up, restore, verify, dump, load, import, export and list."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

import click

from splicewright.cli.answers import FILE, answering, count_option, json_option, put_json
from splicewright.cli.copies import backups_command, follow_command
from splicewright.cli.hooks import hooks_command
from splicewright.cli.incoming import incoming_command
from splicewright.cli.opening import (
    by_option,
    default_register,
    opened_register,
    progress,
    register_option,
)
from splicewright.cli.people import people_command, token_command
from splicewright.cli.stamps import check_stamp_command, stamp_command

if TYPE_CHECKING:
    from splicewright.actions.register.import_rows import Imported, TableKind
    from splicewright.store import Register, State, Verified
    from splicewright.store.present.present import JointNow

_KINDS = click.Choice(["joints", "readings", "stock"])


@click.group("register")
def register_command() -> None:
    """Keep the register: back up, restore, verify, import, export."""


register_command.add_command(token_command)
register_command.add_command(people_command)
register_command.add_command(hooks_command)
register_command.add_command(incoming_command)
register_command.add_command(backups_command)
register_command.add_command(follow_command)
register_command.add_command(stamp_command)
register_command.add_command(check_stamp_command)


@register_command.command("add-conveyor")
@click.argument("file", type=FILE)
@by_option
@register_option
@json_option
@answering
def add_conveyor_command(file: Path, by: str, where: str, as_json: bool) -> None:
    """Record a conveyor FILE, or its next version; makes the register when there is none."""
    from splicewright.actions.conveyor.record import record_conveyor

    with opened_register(where, make=True) as register:
        done = record_conveyor(register, file, by=by, now=datetime.now(UTC), device="desk")
    if as_json:
        put_json(
            {
                "conveyor": str(done.conveyor),
                "site": str(done.site),
                "name": done.name,
                "version": done.version,
                "new": done.new,
            }
        )
        return
    wording = "recorded" if done.new else "was recorded already"
    click.echo(f"{done.name}: version {done.version} of its file {wording}.")


@register_command.command("add-joint")
@click.argument("plan", type=FILE)
@click.option("--label", required=True, help="What the crew calls the joint.")
@click.option("--place", default="", help="Place on the belt from its mark, such as '120 m'.")
@by_option
@register_option
@json_option
@answering
def add_joint_command(
    plan: Path, label: str, place: str, by: str, where: str, as_json: bool
) -> None:
    """Record a planned joint and its job from PLAN, a plan.json or its folder."""
    from splicewright.actions.plan.plan import read_plan
    from splicewright.actions.plan.record import record_plan
    from splicewright.quantities import Kind, read

    joint_plan = read_plan(plan)
    at = read(place, Kind.DISTANCE, "--place") if place else None
    with opened_register(where) as register:
        conveyor = _conveyor_called(register, joint_plan.conveyor.name, joint_plan.conveyor.site)
        belt = next((b.belt for b in register.belts(conveyor)), None)
        done = record_plan(
            register,
            joint_plan,
            conveyor=conveyor,
            label=label,
            by=by,
            now=datetime.now(UTC),
            belt=belt,
            place=at,
            device="desk",
        )
    if as_json:
        put_json({"joint": str(done.joint), "job": str(done.job), "label": label})
        return
    click.echo(f"{label}: planned on {joint_plan.conveyor.name}, job {done.job}.")


@register_command.command("backup")
@click.argument("to", type=FILE)
@register_option
@json_option
@answering
def backup_command(to: Path, where: str, as_json: bool) -> None:
    """Write a whole copy to the new file TO, readable by you only; work may go on."""
    from splicewright.actions.register.backup import back_up

    with opened_register(where) as register:
        head = back_up(register, to)
    if as_json:
        put_json({"written": str(to), "facts": head.seq, "head": str(head)})
        return
    click.echo(f"{to}: {head.seq} facts. Head, to write down elsewhere:\n{head}")


@register_command.command("restore")
@click.argument("backup", type=FILE)
@click.option("--replace", is_flag=True, help="Put an existing register aside first.")
@register_option
@json_option
@answering
def restore_command(backup: Path, replace: bool, where: str, as_json: bool) -> None:
    """Bring the register back from BACKUP, a backup or dump; it is checked whole first."""
    from splicewright.actions.register.backup import restore

    head, aside = restore(backup, where or default_register(), replace=replace)
    if as_json:
        put_json({"facts": head.seq, "head": str(head), "aside": str(aside) if aside else None})
        return
    click.echo(f"{head.seq} facts restored; the chain holds. Head: {head}")
    if aside is not None:
        click.echo(f"The register that was there lies in {aside}")


@register_command.command("partition")
@count_option("--parts", 2, 256, 16, "Tables that the log becomes.")
@register_option
@answering
def partition_command(parts: int, where: str) -> None:
    """Part the log of a large register in PostgreSQL; nobody reads or writes meanwhile."""
    with opened_register(where, check=False) as register:
        register.partition(parts, progress())
        click.echo(f"The log lies in {parts} parts, by the thing that a fact is about.")


@register_command.command("verify")
@click.option("--head", default="", help="NUMBER:HASH written down earlier, or off a sheet.")
@click.option("--rebuild", is_flag=True, help="Make present state and indexes anew first.")
@click.option(
    "--part",
    type=click.IntRange(1),
    default=None,
    metavar="FACTS",
    help="Check only the chain, so many facts of it, and say where to go on.",
)
@click.option("--since", default="", help="With --part: NUMBER:HASH where the last part ended.")
@register_option
@json_option
@answering
def verify_command(
    head: str, rebuild: bool, part: int | None, since: str, where: str, as_json: bool
) -> None:
    """Check that nobody changed what was recorded; exit code 1 when somebody did."""
    from splicewright.actions.register.verify import verify_part, verify_register
    from splicewright.errors import Fault, InputError

    if since and part is None:
        raise InputError(Fault("--since", "goes with --part; a whole check begins at fact 1"))
    if part is not None and (head or rebuild):
        raise InputError(Fault("--part", "goes with --since only"))
    with opened_register(where, check=False) as register:
        if part is not None:
            report, last = verify_part(register, since, part, tell=progress()), register.head().seq
            _say_part(report, last, as_json)
            return
        report = verify_register(register, head, rebuild=rebuild, tell=progress())
    if as_json:
        put_json(
            {
                "facts": report.head.seq,
                "contents": report.contents,
                "head": str(report.head),
                "faults": list(report.faults),
            }
        )
    else:
        for fault in report.faults:
            click.echo(f"! {fault}")
        verdict = "NOT as recorded" if report.faults else "all as recorded"
        click.echo(f"{report.head.seq} facts, {report.contents} contents: {verdict}.")
        click.echo(f"Head, to write down elsewhere:\n{report.head}")
        if report.faults:
            click.echo(
                "What to do: keep the file as it is, stop what uses it, restore the newest backup: "
                "splicewright register restore BACKUP --replace. Where only indexes or the present "
                "state are named, verify --rebuild makes them anew from the facts."
            )
    if report.faults:
        raise click.exceptions.Exit(1)


def _say_part(report: Verified, last: int, as_json: bool) -> None:
    """What a part of the chain came to, and where to go on."""
    more = last - report.head.seq
    if as_json:
        put_json({"checked_to": str(report.head), "left": more, "faults": list(report.faults)})
    else:
        for fault in report.faults:
            click.echo(f"! {fault}")
        verdict = "NOT as recorded" if report.faults else "as recorded"
        click.echo(f"Chain up to fact {report.head.seq}: {verdict}; {more} facts are left.")
        go_on = f"--part ... --since {report.head}"
        click.echo(f"Go on with: {go_on}" if more else "Contents and present state: verify alone.")
    if report.faults:
        raise click.exceptions.Exit(1)


@register_command.command("witness")
@click.argument("witness", metavar="NUMBER:HASH")
@register_option
@json_option
@answering
def witness_command(witness: str, where: str, as_json: bool) -> None:
    """Confirm what a crew pack or dossier prints at its foot; exit code 1 when it is not so."""
    from splicewright.actions.register.witness import confirm_witness

    with opened_register(where, check=False) as register:
        check = confirm_witness(register, witness)
    if as_json:
        received = None if check.received is None else check.received.isoformat()
        put_json(
            {
                "confirmed": check.stands,
                "fact": check.seq,
                "kind": check.kind,
                "received": received,
                "since": check.since,
            }
        )
    elif check.stands:
        click.echo(
            f'Confirmed: fact {check.seq}, "{check.kind}", arrived {check.received:%Y-%m-%d %H:%M} '
            f"UTC, has this hash; {check.since} facts came since. Whether all of them are as "
            f"recorded: splicewright register verify --head {witness}"
        )
    else:
        click.echo(
            f"NOT confirmed: fact {check.seq} of this register is not there or has another hash. "
            "The sheet is of another register, or facts up to it were changed since. Keep the file "
            "as it is, and compare with a backup from before."
        )
    if not check.stands:
        raise click.exceptions.Exit(1)


@register_command.command("dump")
@click.argument("to", type=FILE)
@register_option
@json_option
@answering
def dump_command(to: Path, where: str, as_json: bool) -> None:
    """Write the whole register as JSON lines to the new file TO, readable by you only."""
    from splicewright.actions.register.export import dump_register

    with opened_register(where) as register:
        lines = dump_register(register, to)
    if as_json:
        put_json({"written": str(to), "lines": lines})
        return
    click.echo(f"{to}: {lines} lines.")


@register_command.command("load")
@click.argument("dump", type=FILE)
@register_option
@json_option
@answering
def load_command(dump: Path, where: str, as_json: bool) -> None:
    """Fill an empty register from DUMP; all of it, or nothing."""
    from splicewright.actions.register.import_rows import load_register

    with opened_register(where, make=True) as register:
        head = load_register(register, dump)
    if as_json:
        put_json({"facts": head.seq, "head": str(head)})
        return
    click.echo(f"{head.seq} facts loaded; the chain holds. Head: {head}")


@register_command.command("import")
@click.argument("kind", type=_KINDS)
@click.argument("file", type=FILE)
@by_option
@click.option("--dry-run", is_flag=True, help="Only list the rows that would be refused, and why.")
@register_option
@json_option
@answering
def import_command(
    kind: TableKind, file: Path, by: str, dry_run: bool, where: str, as_json: bool
) -> None:
    """Import joints, readings or stock movements (KIND) from FILE, CSV or XLSX.

    Rows that cannot be used are told and left out. Importing again records nothing twice.
    """
    from splicewright.actions.register.import_rows import import_rows

    with opened_register(where) as register:
        done = import_rows(register, kind, file, by=by, now=datetime.now(UTC), dry_run=dry_run)
    if as_json:
        put_json(_imported(done))
        return
    for row in done.refused:
        for fault in row.faults:
            click.echo(f"{file.name}:{row.line}: {fault}")
    would = "would be " if dry_run else ""
    click.echo(
        f"{done.rows} rows can be used, {len(done.refused)} refused; {done.recorded} facts "
        f"{would}recorded, {done.already} were there already."
    )


@register_command.command("export")
@click.argument("kind", type=_KINDS)
@click.argument("to", type=FILE)
@register_option
@json_option
@answering
def export_command(kind: TableKind, to: Path, where: str, as_json: bool) -> None:
    """Write joints, readings or stock movements (KIND) to the new file TO, .csv or .xlsx."""
    from splicewright.actions.register.export import export_table

    with opened_register(where) as register:
        rows = export_table(register, kind, to)
    if as_json:
        put_json({"written": str(to), "rows": rows})
        return
    click.echo(f"{to}: {rows} rows.")


@register_command.command("table")
@click.argument("to", type=FILE)
@click.option("--since", type=click.IntRange(0), default=0, help="Only joints changed after it.")
@register_option
@json_option
@answering
def table_command(to: Path, since: int, where: str, as_json: bool) -> None:
    """Write all joints, or those changed since a fact number, to the new file TO, .csv or .parquet.

    The columns are in docs/joint-table.md.
    """
    from splicewright.actions.register.export import export_joint_table

    with opened_register(where) as register:
        table = export_joint_table(register, to, since)
    if as_json:
        put_json(
            {
                "written": str(to),
                "rows": table.rows,
                "next": table.next,
                "not_mapped": table.not_mapped,
            }
        )
        return
    click.echo(
        f"{to}: {table.rows} joints, {table.not_mapped} failures without a mechanism. What changes "
        f"later: --since {table.next}"
    )


@register_command.command("joints")
@click.option("--conveyor", default="", help="Only of the conveyor of this name.")
@click.option(
    "--state",
    type=click.Choice(["planned", "built", "running", "suspended", "removed"]),
    multiple=True,
    help="Only in this state; may be repeated.",
)
@register_option
@json_option
@answering
def joints_command(conveyor: str, state: tuple[str, ...], where: str, as_json: bool) -> None:
    """List the joints: conveyor, label, place, state, since when."""
    from splicewright.actions.register.use import conveyor_labels
    from splicewright.store import State

    states = [State(word) for word in state]
    with opened_register(where) as register:
        labels = conveyor_labels(register)
        named = [
            c
            for c in register.conveyors()
            if not conveyor or conveyor in {c.name, labels[c.conveyor], str(c.conveyor)}
        ]
        if conveyor and not named:
            from splicewright.errors import Fault, InputError

            say = f"the register knows no conveyor {conveyor!r}"
            raise InputError(Fault("--conveyor", say))
        rows = [(labels[c.conveyor], j) for c in named for j in _all(register, c.conveyor, states)]
    if as_json:
        put_json([_joint(name, joint) for name, joint in rows])
        return
    for name, joint in rows:
        line = _joint(name, joint)
        place = "" if joint.place is None else f"{joint.place:.1f} m"
        click.echo(f"{name:<20} {joint.label:<16} {place:>9}  {joint.state:<10} {line['since']}")
    click.echo(f"{len(rows)} joints.")


def _conveyor_called(register: Register, name: str, site: str) -> UUID:
    from splicewright.errors import Fault, InputError

    sites = {s.site for s in register.sites() if s.name == site}
    matches = [c.conveyor for c in register.conveyors() if c.name == name and c.site in sites]
    if len(matches) == 1:
        return matches[0]
    say = f"the register knows no conveyor {name!r} at {site!r}; record it with add-conveyor"
    if matches:
        say = (
            f"the register knows {len(matches)} conveyors {name!r} at {site!r}; record the plan on "
            "the page of the right one"
        )
    raise InputError(Fault("conveyor", say))


def _all(register: Register, conveyor: UUID, states: list[State]) -> Iterator[JointNow]:
    after = None
    while page := register.joints(conveyor, states, after=after):
        yield from page
        after = (page[-1].label, page[-1].joint)


def _joint(conveyor: str, joint: JointNow) -> dict[str, object]:
    since = joint.removed or joint.stopped or joint.put_to_work or joint.built or joint.planned
    return {
        "conveyor": conveyor,
        "joint": str(joint.joint),
        "label": joint.label,
        "place": joint.place,
        "state": joint.state.value,
        "since": since.isoformat(timespec="minutes"),
    }


def _imported(done: Imported) -> dict[str, object]:
    return {
        "rows": done.rows,
        "recorded": done.recorded,
        "already": done.already,
        "dry_run": done.dry_run,
        "refused": [
            {
                "line": row.line,
                "faults": [{"key": f.key, "sentence": f.sentence} for f in row.faults],
            }
            for row in done.refused
        ],
    }
