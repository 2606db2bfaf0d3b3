"""Record a fastener range file for a site, or that the site does not use a range any more."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.joint import Range
    from splicewright.store import Register


def record_fasteners(
    register: Register,
    site: UUID,
    raw: bytes,
    name: str,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> tuple[Range, bool]:
    """Record a range file; its range is told by the name it gives itself.

    Parameters
    ----------
    raw, name : the file as it is, and what it is called, for messages

    Returns
    -------
    The range, and whether anything was new: the same file again records nothing.

    Raises
    ------
    InputError
        The file cannot be used, every fault with key and line; no such site.
    """
    from splicewright.actions.register.kept_files import kept_ranges
    from splicewright.files.toml import LARGEST
    from splicewright.joint.fasteners.loading import read_range
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import FastenersRecorded

    if len(raw) > LARGEST:
        raise InputError(Fault("", "is larger than 1 MB; a file of this kind is a few kB", name))
    made = read_range(raw, name)
    if register.site(site) is None:
        raise InputError(Fault("site", f"the register knows no site {site}"))
    digest = register.keep(raw, "application/toml")
    if any(kept.digest == digest for kept in kept_ranges(register, site)):
        return made, False
    what = FastenersRecorded(site, made.name, digest)
    register.append(Fact(uuid4(), now, by, what, person, device))
    return made, True


def drop_fasteners(
    register: Register,
    site: UUID,
    range_name: str,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Record that a site does not plan with a range any more; its plans stay as they are.

    Raises
    ------
    InputError
        The site does not use it.
    """
    from splicewright.actions.register.kept_files import kept_ranges
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import FastenersRecorded

    if all(kept.range.name != range_name for kept in kept_ranges(register, site)):
        raise InputError(Fault("range", f'"{range_name}" is not among the ranges of this site'))
    what = FastenersRecorded(site, range_name, None)
    register.append(Fact(uuid4(), now, by, what, person, device))
