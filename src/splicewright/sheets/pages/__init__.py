"""What pages of every pack and report share."""
