"""The workbench: the whole job in the browser, on one's own machine."""
