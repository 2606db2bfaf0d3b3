"""Joints of the register."""
