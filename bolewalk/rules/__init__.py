"""Protected trees, permits, seasons, scope words and cautions, as data the user edits."""
