"""The present state, derived from the log; filled by the register when it opens."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def _id(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.Uuid, nullable=empty)


def _text(name: str, *, empty: bool = False) -> sa.Column[str]:
    # The same order of names on both databases: by code point.
    by_code = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    return sa.Column(name, by_code, nullable=empty)


def _word(name: str, *, empty: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(40), nullable=empty)


def _number(name: str, *, empty: bool = False) -> sa.Column[float]:
    return sa.Column(name, sa.Float(53), nullable=empty)


def _count(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=False)


def _moment(name: str, *, empty: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=empty)


def _known(table: str, *columns: str) -> list[sa.ForeignKeyConstraint]:
    """Rows name only things the register knows."""
    return [
        sa.ForeignKeyConstraint([c], ["subjects.subject"], name=f"fk_{table}_{c}_subjects")
        for c in columns
    ]


def _check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=f"ck_{table}_{name}")


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=f"pk_{table}")


def upgrade() -> None:
    """Make the tables of the present state."""
    with op.batch_alter_table("register") as register:
        register.add_column(sa.Column("derivation", sa.Integer, nullable=False, server_default="0"))
    op.create_table(
        "subjects",
        _id("subject"),
        _word("stream"),
        _count("version"),
        _key("subjects", "subject"),
        _check(
            "subjects", "stream", "stream IN ('site', 'conveyor', 'belt', 'joint', 'job', 'person')"
        ),
        _check("subjects", "version", "version >= 1"),
    )
    _plant()
    _joints()


def _plant() -> None:
    op.create_table(
        "sites",
        _id("site"),
        _text("name"),
        _text("note"),
        _key("sites", "site"),
        *_known("sites", "site"),
    )
    op.create_table(
        "stock",
        _id("site"),
        _text("item"),
        _number("count"),
        _key("stock", "site", "item"),
        *_known("stock", "site"),
    )
    op.create_table(
        "conveyors",
        _id("conveyor"),
        _id("site"),
        _text("name"),
        _text("file", empty=True),
        _count("file_version"),
        _number("belt_length", empty=True),
        _number("speed", empty=True),
        _key("conveyors", "conveyor"),
        *_known("conveyors", "conveyor", "site"),
        _check("conveyors", "file_version", "file_version >= 1"),
    )
    op.create_index("ix_conveyors_site_name", "conveyors", ["site", "name"])
    op.create_table(
        "belts",
        _id("belt"),
        _id("conveyor"),
        _text("name"),
        _number("length"),
        _text("marking"),
        _moment("placed"),
        _key("belts", "belt"),
        *_known("belts", "belt", "conveyor"),
        _check("belts", "length", "length >= 0"),
    )
    op.create_index("ix_belts_conveyor_placed", "belts", ["conveyor", "placed"])
    op.create_table(
        "pieces",
        _id("piece"),
        _id("belt"),
        _text("name"),
        _number("start"),
        _number("length"),
        _text("marking"),
        _moment("made", empty=True),
        _moment("placed"),
        _moment("removed", empty=True),
        _key("pieces", "belt", "piece"),
        *_known("pieces", "belt"),
        _check("pieces", "place", "start >= 0 AND length >= 0"),
    )
    op.create_table(
        "damage",
        _id("damage"),
        _id("belt"),
        _number("place"),
        _number("length"),
        _word("grade"),
        _number("across", empty=True),
        _text("note"),
        _moment("found"),
        _moment("mended", empty=True),
        _key("damage", "belt", "damage"),
        *_known("damage", "belt"),
        _check("damage", "place", "place >= 0 AND length >= 0"),
        _check("damage", "grade", "grade IN ('watch', 'repair soon', 'stop the belt')"),
    )
    op.create_table(
        "people",
        _id("person"),
        _text("name"),
        _word("role"),
        _key("people", "person"),
        *_known("people", "person"),
        _check("people", "role", "role IN ('viewer', 'crew', 'lead', 'admin')"),
    )


def _joints() -> None:
    op.create_table(
        "joints",
        _id("joint"),
        _id("conveyor"),
        _id("belt", empty=True),
        _text("label"),
        _number("place", empty=True),
        _word("state"),
        _text("plan", empty=True),
        _text("plan_id"),
        _number("retighten_after", empty=True),
        _number("inspect_after", empty=True),
        _moment("planned"),
        _moment("built", empty=True),
        _moment("put_to_work", empty=True),
        _moment("stopped", empty=True),
        _moment("removed", empty=True),
        _word("mode", empty=True),
        _moment("retightened", empty=True),
        _moment("inspected", empty=True),
        sa.Column("can_run", sa.Boolean),
        _number("seen_station", empty=True),
        _moment("seen", empty=True),
        _key("joints", "joint"),
        *_known("joints", "joint", "conveyor", "belt"),
        _check(
            "joints", "state", "state IN ('planned', 'built', 'running', 'suspended', 'removed')"
        ),
        _check("joints", "removed", "(state = 'removed') = (removed IS NOT NULL)"),
        _check("joints", "seen", "(seen IS NULL) = (seen_station IS NULL)"),
    )
    op.create_index("ix_joints_conveyor_label_joint", "joints", ["conveyor", "label", "joint"])
    op.create_index("ix_joints_label_joint", "joints", ["label", "joint"])
    op.create_table(
        "due", _id("joint"), _id("conveyor"), _word("task"), _moment("due"), _text("why"),
        _key("due", "joint", "task"), *_known("due", "joint", "conveyor"),
        _check("due", "task", "task IN ('re-tighten', 'inspect', 'renew')"),
    )  # fmt: skip
    op.create_index("ix_due_due_joint", "due", ["due", "joint"])
    op.create_index("ix_due_conveyor_due", "due", ["conveyor", "due"])
    op.create_table(
        "jobs",
        _id("job"),
        _id("conveyor"),
        _id("joint", empty=True),
        _text("name"),
        _moment("opened"),
        _moment("signed", empty=True),
        _text("signed_by"),
        sa.Column("changed", sa.Boolean, nullable=False),
        _moment("closed", empty=True),
        _key("jobs", "job"),
        *_known("jobs", "job", "conveyor", "joint"),
    )
    op.create_index("ix_jobs_conveyor_opened", "jobs", ["conveyor", "opened"])
