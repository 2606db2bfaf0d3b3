"""The job as a whole: isolation, lengths, parts, steps, time; one plan."""
