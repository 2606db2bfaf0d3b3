"""Which joint, and why: every size judged on every requirement."""
