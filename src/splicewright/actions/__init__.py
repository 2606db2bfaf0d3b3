"""One module per thing a person does with Splicewright; CLI and web call these."""
