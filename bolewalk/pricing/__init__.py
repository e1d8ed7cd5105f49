"""Crew hours, debris and loads, the quote and its phases."""
