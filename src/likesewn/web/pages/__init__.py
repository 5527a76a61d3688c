"""The pages of the workbench: they only translate between the desk and what is seen.

``shelf`` shows the garments, ``cloths`` the drawer of cloths, ``garment`` the frame round the stages, and
each stage has its module. ``frame`` holds what every page has: its head, its links, the way to say that
something went wrong.
"""
