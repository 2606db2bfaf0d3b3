"""Files that people make, read with all their faults at once: TOML, CSV, XLSX."""
