"""API: facts in and out, and the plans, files and photographs they name."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import APIRouter, BackgroundTasks, Depends, Path, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from splicewright.actions.inspection.recorded import bearing, keep_verdicts
from splicewright.actions.register.keep_content import keep_content
from splicewright.actions.register.record_facts import Outcome, record_sent
from splicewright.errors import Fault, InputError
from splicewright.store import Register
from splicewright.store.authority import Scope
from splicewright.store.facts.facts import to_data
from splicewright.store.facts.kinds import KINDS
from splicewright.store.register import LARGEST_CONTENT, MEDIA_TYPES
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.api.models import FactsOut, StoredOut
from splicewright.web.app.problems import FaultOut, NotThereError, fault_out
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["facts"])
Reader = Annotated[Caller, Depends(needs_scope(Scope.READ))]
Recorder = Annotated[Caller, Depends(needs_scope(Scope.RECORD))]
MOST_FACTS = 500
"""Facts of one request."""
_Digest = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256, hexadecimal.")]
_Version = Annotated[int, Field(ge=0, lt=2**63)]


class FactsIn(BaseModel):
    """Facts to record, in the order they were made."""

    model_config = ConfigDict(extra="forbid")

    facts: list[dict[str, Any]] = Field(
        min_length=1,
        max_length=MOST_FACTS,
        description="Each as in docs/register.md, with an id made by the sender: sending it again "
        "is harmless. `by` and `person` may be left out; they are the account's. Numbers are SI.",
    )
    seen: dict[UUID, _Version] = Field(
        default={},
        max_length=MOST_FACTS,
        description="Version of each thing the sender looked at; a fact about one that others "
        "changed since is a conflict.",
    )


class OutcomeOut(BaseModel):
    """What became of one fact."""

    id: UUID | None = Field(description="As sent; null when even that cannot be read.")
    verdict: Literal["recorded", "already", "refused", "conflict"] = Field(
        description="recorded, already: there for good. refused, conflict: a person must look."
    )
    seq: int | None = Field(description="Its place in the order of arrival.")
    received: datetime | None
    faults: list[FaultOut]


class OutcomesOut(BaseModel):
    """What became of each fact, in the order they were sent."""

    outcomes: list[OutcomeOut]


class KeptOut(BaseModel):
    """A content that is kept for good."""

    digest: str = Field(description="SHA-256 of what is kept, hexadecimal; facts name it.")
    media_type: str
    size: int = Field(description="Of what is kept [byte].")


@router.get("/facts")
def facts(
    request: Request,
    _: Reader,
    since: Annotated[int, Query(ge=0, lt=2**63, description="Only after this number.")] = 0,
    limit: Annotated[int, Query(ge=1, le=1000, description="How many at most.")] = 500,
    kind: Annotated[list[str], Query(max_length=50, description="May be repeated.")] = [],  # noqa: B006
) -> FactsOut:
    """Facts as recorded, in the order of arrival; ask again with `next` to follow the register."""
    register = room_of(request).register
    unknown = [k for k in kind if k not in KINDS]
    if unknown:
        accepted = ", ".join(sorted(KINDS))
        raise InputError(Fault("kind", f"{unknown[0][:60]!r} is not known; accepted is {accepted}"))
    head = register.head().seq
    stored = register.facts_since(since, limit, kind)
    shown = [
        StoredOut(seq=s.seq, received=s.received, hash=s.hash.hex(), fact=to_data(s.fact))
        for s in stored
    ]
    # With some kinds only, the end of what was looked through is the head.
    end = stored[-1].seq if stored else since
    return FactsOut(facts=shown, next=end if len(stored) == limit else max(end, head), head=head)


@router.post("/facts")
async def record(
    request: Request, caller: Recorder, sent: FactsIn, later: BackgroundTasks
) -> OutcomesOut:
    """Record facts. Each has its own answer, so that one bad fact holds up no other.

    A program signs nothing: hold points and hand-overs are signed by a person at a page. Of an
    inspection that is closed the verdict is worked after the answer, and recorded beside it.
    """
    # In one thread from end to end; the framework would take another one for the answer.
    return await run_in_threadpool(_record, request, caller, sent, later)


def _record(request: Request, caller: Caller, sent: FactsIn, later: BackgroundTasks) -> OutcomesOut:
    room = room_of(request)
    register = room.register.said_by(caller.actor)
    own = {"by": caller.name, "person": str(caller.account)}
    outcomes = record_sent(register, [own | item for item in sent.facts], sent.seen)
    there = bearing(sent.facts, [o.receipt.id for o in outcomes if o.receipt is not None])
    _, work = keep_verdicts(room.register, caller.actor, there, room.now(), most=0)
    if work is not None:
        later.add_task(work)
    return OutcomesOut(outcomes=[_outcome(outcome) for outcome in outcomes])


@router.get(
    "/contents/{digest}",
    response_class=Response,
    responses={200: {"content": {media_type: {} for media_type in MEDIA_TYPES}}},
)
def content(request: Request, _: Reader, digest: _Digest) -> Response:
    """A kept plan, conveyor file or photograph, by its digest."""
    register = room_of(request).register
    if not register.has_content(digest):
        raise NotThereError("digest", f"the register keeps no content {digest[:12]}...")
    file = register.content(digest)
    headers = {
        "ETag": f'"{digest}"',
        "Cache-Control": "private, max-age=31536000, immutable",
        # Whatever it is, a browser that opens it runs nothing of it.
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Content-Disposition": f'attachment; filename="{digest[:12]}"',
    }
    return Response(file.data, headers=headers, media_type=file.media_type)


@router.put(
    "/contents/{digest}",
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                media_type: {"schema": {"type": "string", "format": "binary"}}
                for media_type in MEDIA_TYPES
            },
        }
    },
)
async def keep(request: Request, _: Recorder, digest: _Digest) -> KeptOut:
    """Keep a plan, conveyor file or photograph before the fact that names it; again is harmless.

    A photograph is decoded and written anew without place and camera: the answer's digest is that
    of what is kept, and the one that a fact must name.
    """
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    data = await request.body()
    if len(data) > LARGEST_CONTENT:
        most = LARGEST_CONTENT // 1_000_000
        raise InputError(Fault("content", f"is {len(data)} bytes; accepted is up to {most} MB"))
    register = room_of(request).register
    return await run_in_threadpool(_keep, register, data, media_type, digest)


def _keep(register: Register, data: bytes, media_type: str, digest: str) -> KeptOut:
    kept = keep_content(register, data, media_type, digest)
    there = register.content(kept)
    return KeptOut(digest=kept, media_type=there.media_type, size=len(there.data))


def _outcome(outcome: Outcome) -> OutcomeOut:
    receipt = outcome.receipt
    return OutcomeOut(
        id=outcome.id,
        verdict=outcome.verdict,
        seq=receipt.seq if receipt is not None else None,
        received=receipt.received if receipt is not None else None,
        faults=[fault_out(fault) for fault in outcome.faults],
    )
