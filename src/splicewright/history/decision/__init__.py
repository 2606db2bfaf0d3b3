"""Repair, re-make, insert or replace: the first decision at a place."""
