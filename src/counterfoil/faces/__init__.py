"""Faces: they take what a person asks, call once, and show the answer."""
