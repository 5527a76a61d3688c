"""The workbench: the whole job in a browser, on one's own machine.

``desk`` is all that it can do, without a browser; ``pages`` and ``api`` only translate to and from it.
``scene`` and ``scenes`` say what is to be drawn, ``drawing`` draws it; ``widgets`` are fields and buttons;
``words`` holds every text. ``guard`` stands round the whole app, ``studio`` decodes photographs in a process
with limits, ``phone`` is the door for a phone's photographs, ``laying`` searches for lays in a process of its
own; ``serve`` puts it together.
"""
