"""Drill sets: lines chosen by one description, in an order that suits practice, as exercises with a key."""
