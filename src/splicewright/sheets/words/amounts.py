"""Costs and counts in words."""

from __future__ import annotations

from splicewright.history.life.limits import Limits


def money(value: float) -> str:
    """An amount to three digits, without a currency."""
    return f"{float(f'{value:.3g}'):,.0f}".replace(",", " ")


def counts_words(counts: Limits | None) -> str:
    """Range of a number of failures, to go on a sentence with; empty where not known."""
    if counts is None:
        return ""
    if counts.low == counts.high:
        return f", {counts.low:.0f} nine times in ten"
    return f", {counts.low:.0f} to {counts.high:.0f} nine times in ten"
