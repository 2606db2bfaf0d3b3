"""Measure by photograph: scale sheets on the belt, one adjustment, figures with their doubt."""
