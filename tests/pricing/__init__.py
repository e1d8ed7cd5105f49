"""The price: hours, debris, quote, phases, keep or remove, learning."""
