"""What to plant, where, with what water, and the place in later years."""
