"""The tables of accounts (migrations 0003 to 0018); they stand beside the log, not in it."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
)

from splicewright.store.accounts.accounts import Change
from splicewright.store.database.schema import METADATA, Id, Instant, Word
from splicewright.store.facts.plant_facts import PersonRole

_Number = BigInteger().with_variant(Integer, "sqlite")

ACCOUNTS = Table(
    "accounts",
    METADATA,
    Column("account", Id, primary_key=True),
    Column("login", Text, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("role", Word(PersonRole), nullable=False),
    Column("password", Text, nullable=False),
    Column("units", String(40), nullable=False),
    Column("created", Instant, nullable=False),
    Column("closed", Instant),
    Column("all_sites", Boolean, nullable=False),
)
ACCOUNT_SITES = Table(
    "account_sites",
    METADATA,
    Column("account", Id, primary_key=True),
    Column("site", Id, primary_key=True),
)
"""The sites an account is let into, unless it is let into all."""
Index("ix_account_sites_site", ACCOUNT_SITES.c.site)
SESSIONS = Table(
    "sessions",
    METADATA,
    Column("session", Id, primary_key=True),
    Column("account", Id, nullable=False),
    Column("digest", LargeBinary, nullable=False, unique=True),
    Column("previous", LargeBinary),
    Column("csrf", LargeBinary, nullable=False),
    Column("began", Instant, nullable=False),
    Column("rotated", Instant, nullable=False),
    Column("taken", Boolean, nullable=False),
    Column("used", Instant, nullable=False),
    Column("waits", Boolean, nullable=False),
)
"""previous : token before the last rotation; taken : the device has used the newer one.

waits : the password was right, and a code is still asked for: it opens nothing yet.
"""
Index("ix_sessions_previous", SESSIONS.c.previous)
Index("ix_sessions_account", SESSIONS.c.account)
SECOND_FACTORS = Table(
    "second_factors",
    METADATA,
    Column("account", Id, primary_key=True),
    Column("secret", LargeBinary, nullable=False),
    Column("created", Instant, nullable=False),
    Column("confirmed", Instant),
    Column("step", BigInteger, nullable=False),
)
"""step : of the last code that was taken; it is not taken again."""
RECOVERY_CODES = Table(
    "recovery_codes",
    METADATA,
    Column("digest", LargeBinary, primary_key=True),
    Column("account", Id, nullable=False),
)
Index("ix_recovery_codes_account", RECOVERY_CODES.c.account)
PASSKEYS = Table(
    "passkeys",
    METADATA,
    Column("credential", LargeBinary, primary_key=True),
    Column("account", Id, nullable=False),
    Column("host", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("public_key", LargeBinary, nullable=False),
    Column("sign_count", BigInteger, nullable=False),
    Column("created", Instant, nullable=False),
    Column("used", Instant),
)
"""host : the name under which the app was reached when it was made; it signs for no other."""
Index("ix_passkeys_account", PASSKEYS.c.account)
CHALLENGES = Table(
    "passkey_challenges",
    METADATA,
    Column("challenge", LargeBinary, primary_key=True),
    Column("account", Id, nullable=False),
    Column("purpose", String(40), nullable=False),
    Column("created", Instant, nullable=False),
)
Index("ix_passkey_challenges_account", CHALLENGES.c.account)
PHONES = Table(
    "phones",
    METADATA,
    Column("account", Id, primary_key=True),
    Column("phone", Id, primary_key=True),
    Column("device", Text, nullable=False),
    Column("entries", BigInteger, nullable=False),
    Column("waits", BigInteger, nullable=False),
    Column("heard", Instant, nullable=False),
)
"""entries : that the account wrote on that phone; waits : of them, those not yet sent."""
PUSH_KEYS = Table(
    "push_keys",
    METADATA,
    Column("key", Id, primary_key=True),
    Column("secret", LargeBinary, nullable=False),
    Column("created", Instant, nullable=False),
)
"""One row: the private key by which push services know this server, sealed."""
PUSH_PHONES = Table(
    "push_phones",
    METADATA,
    Column("session", Id, ForeignKey("sessions.session", ondelete="CASCADE"), primary_key=True),
    Column("endpoint", Text, nullable=False),
    Column("public_key", LargeBinary, nullable=False),
    Column("secret", LargeBinary, nullable=False),
    Column("kinds", Text, nullable=False),
    Column("seen", BigInteger, nullable=False),
    Column("looked", Instant, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("next_try", Instant, nullable=False),
)
"""See `PushPhone`."""
INVITATIONS = Table(
    "invitations",
    METADATA,
    Column("digest", LargeBinary, primary_key=True),
    Column("name", Text, nullable=False),
    Column("role", Word(PersonRole), nullable=False),
    Column("account", Id),
    Column("by", Id),
    Column("created", Instant, nullable=False),
    Column("until", Instant, nullable=False),
    Column("taken", Instant),
    Column("all_sites", Boolean, nullable=False),
    Column("sites", Text, nullable=False),
)
TOKENS = Table(
    "api_tokens",
    METADATA,
    Column("token", Id, primary_key=True),
    Column("digest", LargeBinary, nullable=False, unique=True),
    Column("account", Id, nullable=False),
    Column("label", Text, nullable=False),
    Column("scopes", Text, nullable=False, server_default="read"),
    Column("created", Instant, nullable=False),
    Column("until", Instant),
    Column("used", Instant),
    Column("ended", Instant),
    Column("sites", Text),
)
"""sites : those of its account's that it opens, ids with blanks between; none: all of them."""
Index("ix_api_tokens_account", TOKENS.c.account)
TRIES = Table(
    "sign_in_tries",
    METADATA,
    Column("try", Id, primary_key=True),
    Column("login", LargeBinary, nullable=False),
    Column("address", Text, nullable=False),
    Column("at", Instant, nullable=False),
)
"""Tries that failed or are under way; login : SHA-256, a password may be typed there by mistake."""
Index("ix_sign_in_tries_at", TRIES.c.at)
CHANGES = Table(
    "account_log",
    METADATA,
    Column("seq", _Number, primary_key=True, autoincrement=True),
    Column("at", Instant, nullable=False),
    Column("account", Id),
    Column("by", Id),
    Column("change", Word(Change), nullable=False),
    Column("note", Text, nullable=False),
)
