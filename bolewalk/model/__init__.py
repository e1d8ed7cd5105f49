"""What a survey is made of: units, figures with their basis, trees, works, decisions."""
