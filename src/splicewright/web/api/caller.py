"""Who calls the API, and what they may: a program with a token, or a page of somebody signed in."""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from typing import Annotated
from uuid import UUID

from fastapi import Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from starlette.concurrency import run_in_threadpool

from splicewright.store import Actor
from splicewright.store.accounts.accounts import SCOPE_ROLES
from splicewright.store.authority import Scope
from splicewright.store.sites import Sites
from splicewright.web.app.problems import NeedsScopeError, NeedsTokenError
from splicewright.web.app.visitor import (
    HEADER,
    FactorNeededError,
    Role,
    find_visitor,
    room_of,
    unmasked,
)

_SAFE = {"GET", "HEAD", "OPTIONS"}
_bearer = HTTPBearer(
    auto_error=False,
    scheme_name="token",
    description="A token made by an admin, on the page Tokens or with "
    "`splicewright register token`. It acts as its account, within its scopes: read, record "
    "(facts, contents, tasks), plan (plans and studies; conveyor files and fastener ranges when "
    "the account is a lead's), admin (all of it).",
)


@dataclass(frozen=True, slots=True)
class Caller:
    """Who asks.

    account, name : as whom facts are recorded
    sites : that they are let into
    scopes : what a program's key allows; None for a person at a page, who may also sign
    """

    account: UUID
    name: str
    role: Role
    scopes: frozenset[Scope] | None
    sites: Sites

    @property
    def actor(self) -> Actor:
        """As whom they record."""
        return Actor(self.account, self.name, self.role, self.scopes, sites=self.sites)

    def may(self, scope: Scope) -> bool:
        """Whether they may do what this scope allows; their role must reach it too."""
        return self.actor.holds(scope) and self.role.reaches(SCOPE_ROLES[scope])


class NeedsScope:
    """The dependency behind `needs_scope`; the tests find it at every route."""

    def __init__(self, scope: Scope) -> None:
        self.scope = scope

    async def __call__(
        self,
        request: Request,
        sent: Annotated[HTTPAuthorizationCredentials | None, Security(_bearer)] = None,
    ) -> Caller:
        """The caller, when they may."""
        token = sent.credentials if sent is not None else ""
        caller = await run_in_threadpool(_find, request, token)
        if caller is None:
            raise NeedsTokenError
        if not caller.may(self.scope):
            role = SCOPE_ROLES[self.scope].value
            say = f'this needs the scope "{self.scope.value}" and an account that is {role} or more'
            raise NeedsScopeError(say)
        return caller


def needs_scope(scope: Scope) -> NeedsScope:
    """Dependency: somebody who may do what this scope allows."""
    return NeedsScope(scope)


def _find(request: Request, token: str) -> Caller | None:
    if token:
        key = room_of(request).accounts.key(token)
        if key is None:
            return None
        account = key.account
        caller = Caller(account.account, account.name, account.role, key.token.scopes, key.sites)
        request.state.actor = caller.actor
        return caller
    try:
        visitor = find_visitor(request)
    except FactorNeededError as error:
        raise NeedsScopeError(str(error)) from None
    if visitor is None:
        return None
    if request.method not in _SAFE and not hmac.compare_digest(
        unmasked(request.headers.get(HEADER, "")), request.state.csrf
    ):
        say = f"a page sends its session's secret with this; accepted is the header {HEADER}"
        raise NeedsScopeError(say)
    return Caller(visitor.account, visitor.name, visitor.role, None, visitor.sites)
