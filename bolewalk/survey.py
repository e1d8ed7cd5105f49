"""The whole job in order."""
