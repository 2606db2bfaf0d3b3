"""The tables. Migrations make them; this says how they are read and written.

`facts` is the log and the truth; `contents` holds what facts name by digest. The other tables
are the present state, derived in the same transaction as the facts they come from.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any
from uuid import UUID, SafeUUID

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Dialect,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    Uuid,
    and_,
    literal_column,
    or_,
)

from splicewright.history.life.counts import Fate
from splicewright.joint.inspection.verdict import PlateState
from splicewright.quantities import Kind
from splicewright.store.facts.facts import microseconds
from splicewright.store.facts.joint_facts import Mode, Task
from splicewright.store.facts.kinds import Stream
from splicewright.store.facts.plant_facts import Grade, PersonRole
from splicewright.store.present.present import (
    KEYS,
    BeltNow,
    ContentNow,
    ConveyorNow,
    DamageNow,
    DeviationNow,
    DueNow,
    JobNow,
    JointNow,
    PersonNow,
    PieceNow,
    Row,
    SiteNow,
    Standing,
    State,
    StockNow,
    SubjectNow,
)
from splicewright.store.refusals import DamagedError

REVISION = "0018"
"""The newest migration."""
DERIVATION = 6
"""Raised when the same facts give another present state; it is then derived anew at opening."""
SHOWN_SINCE = 6
"""The oldest derivation that pages show while it is derived anew, marked as older.

Raised with `DERIVATION` where pages would read older rows wrongly: a joint that must not run would
not be said to, or what came since says something while it is empty, as the counts of lives did
after migration 0012.
"""

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
_START = datetime(1970, 1, 1, tzinfo=UTC)


UNREADABLE = (
    "a value in the register's database cannot be read ({0}): the file is damaged; keep it as it "
    "is, see what is wrong with: splicewright register verify, and restore the newest backup with: "
    "splicewright register restore"
)


class Id(Uuid[UUID]):
    """An id; SQLite keeps it as text, which damage may make into none."""

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any] | None:
        """From the database."""
        inner = super().result_processor(dialect, coltype)  # type: ignore[no-untyped-call]
        return None if inner is None else _id_from_text


def _id_from_text(value: Any) -> UUID | None:
    """An id from its 32 hexadecimal digits.

    Pages read some 600 each: made in its parts it takes half of what `UUID(value)` takes, which
    looks for braces, hyphens and prefixes that are never there.
    """
    if value is None:
        return None
    try:
        digits = bytes.fromhex(value)
        if len(value) != _ID_DIGITS or len(digits) != _ID_DIGITS // 2:
            raise ValueError(value)
    except (ValueError, TypeError):
        raise DamagedError(UNREADABLE.format("an id")) from None
    made = _NEW_ID(UUID)
    _SET(made, "int", int.from_bytes(digits, "big"))
    _SET(made, "is_safe", SafeUUID.unknown)
    return made


_ID_DIGITS = 32
_NEW_ID: Callable[[type[UUID]], UUID] = object.__new__
_SET = object.__setattr__


class Instant(TypeDecorator[datetime]):
    """A moment, kept as whole microseconds since 1970 so that both databases order it alike."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:
        """To the database."""
        return None if value is None else microseconds(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> datetime | None:
        """From the database."""
        try:
            return None if value is None else _START + timedelta(microseconds=value)
        except (TypeError, OverflowError):
            raise DamagedError(UNREADABLE.format("a moment")) from None


class Word(TypeDecorator[StrEnum]):
    """A word of a closed list, kept as its text."""

    impl = String(40)
    cache_ok = True

    def __init__(self, words: type[StrEnum]) -> None:
        super().__init__(40)
        self.words = words

    def process_bind_param(self, value: StrEnum | None, dialect: Dialect) -> str | None:
        """To the database."""
        return None if value is None else value.value

    def process_result_value(self, value: str | None, dialect: Dialect) -> StrEnum | None:
        """From the database."""
        try:
            return None if value is None else self.words(value)
        except ValueError:
            kind = self.words.__name__.lower()
            raise DamagedError(UNREADABLE.format(f"a {kind}")) from None


METADATA = MetaData(naming_convention=NAMING)

FACTS = Table(
    "facts",
    METADATA,
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("id", Id, nullable=False, unique=True),
    Column("subject", Id, nullable=False),
    Column("stream", Word(Stream), nullable=False),
    Column("kind", String(40), nullable=False),
    Column("corrects", Id),
    Column("at", Instant, nullable=False),
    Column("received", Instant, nullable=False),
    Column("body", Text, nullable=False),
    Column("hash", LargeBinary, nullable=False),
)
Index("ix_facts_subject_seq", FACTS.c.subject, FACTS.c.seq)
Index("ix_facts_kind_seq", FACTS.c.kind, FACTS.c.seq)
_GIVEN = FACTS.c.corrects.is_not(None)
Index("ix_facts_corrects", FACTS.c.corrects, sqlite_where=_GIVEN, postgresql_where=_GIVEN)
# Written out, not bound: an index of some rows serves only a question that says the same.
TELLING = or_(
    FACTS.c.kind != literal_column("'plate inspected'"),
    # As it stands in the body of a fact; in a note its quotes would be escaped.
    ~FACTS.c.body.contains(literal_column(f'\'"state":"{PlateState.OK}"\'')),
)
"""All facts but plates that were said to be sound, which are most of a register."""
Index(
    "ix_facts_telling",
    FACTS.c.subject,
    FACTS.c.kind,
    sqlite_where=TELLING,
    postgresql_where=TELLING,
)
CONTENTS = Table(
    "contents",
    METADATA,
    Column("digest", String(64), primary_key=True),
    Column("media_type", String(80), nullable=False),
    Column("size", Integer, nullable=False),
    Column("packed", Boolean, nullable=False),
    Column("data", LargeBinary, nullable=False),
)
CONTENT_SENDERS = Table(
    "content_senders",
    METADATA,
    Column("digest", String(64), primary_key=True),
    Column("account", Id, primary_key=True),
)
"""Who kept a content: they may name it, and look at it before anything does."""
REGISTER = Table(
    "register",
    METADATA,
    Column("one", Integer, primary_key=True),
    Column("seq", BigInteger, nullable=False),
    Column("hash", LargeBinary, nullable=False),
    Column("derivation", Integer, nullable=False),
)

LIFE_COUNTS = Table(
    "life_counts",
    METADATA,
    Column("site", Uuid, primary_key=True),
    Column("kind", String(40), primary_key=True),
    Column("fate", Word(Fate), primary_key=True),
    Column("cause", String(40), primary_key=True),
    Column("bin", Integer, primary_key=True, autoincrement=False),
    Column("count", BigInteger, nullable=False),
    Column("seconds", BigInteger, nullable=False),
)
"""Lives that are alike, counted (`history.life.counts`); written by `store.sql.life_counts`."""

_TYPES: dict[str, Any] = {
    "UUID": Id,
    "str": Text,
    "int": BigInteger,
    "float": Float(53),
    "bool": Boolean,
    "datetime": Instant,
    "Stream": Word(Stream),
    "State": Word(State),
    "Mode": Word(Mode),
    "Task": Word(Task),
    "Grade": Word(Grade),
    "Kind": Word(Kind),
    "Standing": Word(Standing),
    "PersonRole": Word(PersonRole),
}


def _table(name: str, row: type[Row], *indexes: tuple[str, ...]) -> Table:
    """The table of a kind of row: a column for each field."""
    columns = []
    for field in fields(row):
        kind, _, empty = str(field.type).partition(" | ")
        columns.append(
            Column(
                field.name,
                _TYPES[kind],
                primary_key=field.name in KEYS[row],
                nullable=bool(empty),
                autoincrement=False,
            )
        )
    table = Table(name, METADATA, *columns)
    for index in indexes:
        Index(f"ix_{name}_{'_'.join(index)}", *(table.c[column] for column in index))
    return table


TABLES: dict[type[Row], Table] = {
    SubjectNow: _table("subjects", SubjectNow),
    SiteNow: _table("sites", SiteNow),
    StockNow: _table("stock", StockNow),
    ConveyorNow: _table("conveyors", ConveyorNow, ("site", "name")),
    BeltNow: _table("belts", BeltNow, ("conveyor", "placed")),
    PieceNow: _table("pieces", PieceNow),
    DamageNow: _table("damage", DamageNow),
    JointNow: _table("joints", JointNow, ("conveyor", "label", "joint"), ("label", "joint")),
    DueNow: _table("due", DueNow, ("due", "joint"), ("conveyor", "due")),
    JobNow: _table("jobs", JobNow, ("conveyor", "opened")),
    DeviationNow: _table("deviations", DeviationNow, ("until", "job")),
    PersonNow: _table("people", PersonNow),
    ContentNow: _table("named_contents", ContentNow, ("digest",)),
}
"""The tables of the present state; rows that name a thing refer to `subjects`."""

_STATE = TABLES[JointNow].c.state
UNFIT = and_(TABLES[JointNow].c.can_run.is_(False), literal_column("'removed'") != _STATE)
"""Joints not removed that an inspection found unfit to run."""
STANDING = literal_column("'suspended'") == _STATE
"""Joints in the belt that stand."""
RUNNING = literal_column("'running'") == _STATE
"""Joints that run."""
for _name, _columns, _some in (
    ("ix_joints_unfit", ("label", "joint"), UNFIT),
    ("ix_joints_standing", ("label", "joint"), STANDING),
    ("ix_joints_running_since", ("put_to_work", "joint"), RUNNING),
):
    _of = (TABLES[JointNow].c[name] for name in _columns)
    Index(_name, *_of, sqlite_where=_some, postgresql_where=_some)
