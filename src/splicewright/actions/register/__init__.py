"""The register as a whole: facts in and out, copies, tables."""
