"""Lists of the API a page at a time: `limit`, `after`, and the next page in `Link` (RFC 8288)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, TypeVar

from fastapi import Depends, Query, Request, Response

from splicewright.errors import Fault, InputError
from splicewright.store.facts.kinds import Text

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class Pager:
    """Cuts a list into pages; without `limit` the whole list is one page, as it ever was."""

    request: Request
    response: Response
    limit: int | None
    after: str

    def page(
        self, items: Sequence[_Item], key: Callable[[_Item], object], usual: int | None = None
    ) -> Sequence[_Item]:
        """The page that was asked for; the answer says in `Link` where the next one is.

        Parameters
        ----------
        items : all of them, in their order
        key : names an item in an address
        usual : how many where no limit is sent; None for all

        Raises
        ------
        InputError
            The page is to begin after an item that is not there any more.
        """
        begin = 0
        if self.after:
            places = (n for n, item in enumerate(items, 1) if str(key(item)) == self.after)
            begin = next(places, 0)
            if not begin:
                say = "is no place to go on from (any more); accepted is that of `Link`"
                raise InputError(Fault("after", say))
        limit = self.limit or usual
        end = len(items) if limit is None else begin + limit
        page = items[begin:end]
        if page and end < len(items):
            self.goes_on(key(page[-1]))
        return page

    def needed(self, usual: int, most: int) -> int:
        """How many items to read for `page`: one more than is shown, all to go on from one."""
        return most if self.after else (self.limit or usual) + 1

    def goes_on(self, after: object) -> None:
        """Say in `Link` that the next page begins after this item."""
        there = self.request.url.include_query_params(after=str(after))
        self.response.headers["Link"] = f'<{there.path}?{there.query}>; rel="next"'


async def _pager(  # not in a thread: it only puts together, and to go there and back is to wait
    request: Request,
    response: Response,
    limit: Annotated[int | None, Query(ge=1, le=1000, description="How many at most.")] = None,
    after: Annotated[
        Text, Query(max_length=200, description="As in `Link` of the page before.")
    ] = "",
) -> Pager:
    return Pager(request, response, limit, after)


Paged = Annotated[Pager, Depends(_pager)]
"""Dependency of a route that gives a list."""
