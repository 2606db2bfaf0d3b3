"""What stands on site: belt, pulleys, idlers, material, drives; and the file that says so."""
