"""The steps of the work, with cautions, readings and times."""
