"""Accounts: who may sign in, as whom; they stand beside the log."""
