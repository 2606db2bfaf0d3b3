"""Jobs: read, recorded from phones, deviations signed."""
