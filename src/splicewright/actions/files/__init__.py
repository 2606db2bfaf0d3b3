"""Files a user writes: started, checked, described by schemas."""
