"""Long work apart from the pages: imports, bundles of job packs, fleet forecasts; its queue."""

from splicewright.errands.asking import Desk, ask_bundle, ask_fleet, ask_import, ask_import_again

__all__ = ["Desk", "ask_bundle", "ask_fleet", "ask_import", "ask_import_again"]
