"""Scenes: what each stage gives, as the drawing component shows it. Pure functions, from values to scenes."""
