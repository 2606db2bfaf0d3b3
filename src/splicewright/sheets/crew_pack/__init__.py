"""The crew's job pack and the folder it lies in."""
