"""The pages: ``shelf`` with its garments, ``cloths``, ``garment`` (the frame round the stages) and one module for
each stage. They only translate between the desk and what is seen.

``frame`` holds what every page has: its head, its links, the way to say that something went wrong.
"""
