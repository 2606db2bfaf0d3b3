"""The shutdown: does the work fit, and which joints to renew in it."""
