"""Hostile input for every command, option, file format and page request, and the contract that must hold.

The same seed gives the same cases. ``python -m tests.hostile 100000`` runs as many as one likes.
"""
