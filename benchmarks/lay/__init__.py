"""Benchmarks of lays: ``open`` on published sets, ``folded`` on garments of the project's own kinds."""
