"""The ways at a torn or worn place, number by number: the worksheet that explains them."""

from __future__ import annotations

from splicewright.history.decision.options import JudgedOption, expected_cost
from splicewright.history.decision.study import DecisionStudy
from splicewright.history.life.weibull import share_good
from splicewright.plant.conveyor import slug
from splicewright.quantities import Figure, Kind, Record, Worksheet, stated

_SAID = "from the file or typed with the question"


def record_of_decision(study: DecisionStudy) -> Record:
    """Explain every number of the ways judged.

    Returns a worksheet under the keys ``place.*`` and ``WAY.*``.
    """
    sheet, here = Worksheet(), study.decision.situation
    kind = study.decision.measure.kind
    place = {
        key: sheet.note(stated(f"place.{key}", label, value, of, _SAID))
        for key, label, value, of in (
            ("window", "time there is", here.window, Kind.TIME),
            ("needed", "strength the duty needs", here.strength_needed, Kind.SHARE),
            ("spare", "belt the take-up can give", here.belt_spare, Kind.DISTANCE),
            ("in_stock", "belt in stock", here.belt_in_stock, Kind.DISTANCE),
            ("stop_cost", "cost of a second stopped", here.stop_cost, Kind.RATIO),
            ("failure_cost", "cost of a failure", here.failure_cost, Kind.RATIO),
            ("until", "use until the next planned stop", here.until, kind),
        )
    }
    for verdict in study.verdicts:
        _way(sheet, verdict, place, kind)
    return sheet.finish()


def _way(sheet: Worksheet, verdict: JudgedOption, place: dict[str, Figure], kind: Kind) -> None:
    way, option = verdict.option.way, verdict.option
    key = slug(way)

    def given(name: str, label: str, value: float, of: Kind) -> Figure:
        return sheet.note(stated(f"{key}.{name}", f"{way}: {label}", value, of, _SAID))

    time = given("time", "time it takes", option.time, Kind.TIME)
    cost = given("cost", "material and work", option.cost, Kind.RATIO)
    given("kept", "strength of the belt it keeps", option.kept_strength, Kind.SHARE)
    taken = given("taken", "belt taken out", option.belt_taken, Kind.DISTANCE)
    let_in = given("let_in", "belt inserted", option.belt_let_in, Kind.DISTANCE)
    given("joints", "joints more to maintain", option.joints_more, Kind.COUNT)
    net = option.belt_taken - option.belt_let_in
    if net > 0:
        sheet.found(
            f"{key}.net",
            f"{way}: belt the loop loses",
            net,
            Kind.DISTANCE,
            "belt taken out less belt inserted",
            [taken, let_in],
        )
    shape = given("shape", "shape of its life", option.life.shape, Kind.RATIO)
    scale = given("scale", "scale of its life", option.life.scale, kind)
    chance = sheet.found(
        f"{key}.chance",
        f"{way}: chance of failing before the next planned stop",
        verdict.chance_of_failing,
        Kind.SHARE,
        f"1 - S of {share_good.text}",
        [place["until"], shape, scale],
        "nist-weibull",
    )
    sheet.work(
        f"{key}.expected_cost",
        f"{way}: expected cost",
        expected_cost,
        cost=cost,
        stop_cost=place["stop_cost"],
        time=time,
        failure_cost=place["failure_cost"],
        chance=chance,
    )
