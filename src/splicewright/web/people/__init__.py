"""Pages of people: accounts, sign-in, tokens."""
