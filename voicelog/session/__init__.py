"""Entries become sessions and reps, by pure functions."""
