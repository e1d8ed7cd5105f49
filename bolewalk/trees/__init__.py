"""Measuring rules, growth, mass, condition and value of trees."""
