"""Long work apart from the pages: imports, bundles of job folders, fleet forecasts; its queue."""
