"""Long work apart from the pages: imports, bundles of job packs, fleet forecasts; its queue."""
