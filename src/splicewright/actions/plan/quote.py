"""Quote a planned job: from a plan and a prices file to a sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job.quotation import Quotation
    from splicewright.quantities import System


def quote_job(
    source: Path, prices: Path, work: Path | None = None, fasteners: tuple[Path, ...] = ()
) -> Quotation:
    """Price the plan that the user points at.

    work, fasteners : with a conveyor file, as for planning
    Raises InputError: there is no plan there, or a file cannot be read.
    """
    from splicewright.actions.plan.plan import read_plan
    from splicewright.job.quotation import load_prices, quotation

    return quotation(read_plan(source, work, fasteners), load_prices(prices))


def write_quotation(quote: Quotation, out: Path, system: System, paper: PaperName) -> None:
    """Write the sheet as a PDF that must not be there yet.

    Raises OutputError: it is there, or cannot be written.
    """
    from splicewright.actions.folder.writing import write_new
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.pages.report import printed
    from splicewright.sheets.reports.plan import quotation_sheet

    write_new(out, printed(quotation_sheet(quote, system), PAPERS[paper]))
