"""What plates and bolts of a planned joint carry."""
