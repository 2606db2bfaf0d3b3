"""One module per thing a person does with Splicewright."""
