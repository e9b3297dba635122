"""Threshbook: settings, losses and the next adjustment of a grain combine harvester, over HTTP."""

__version__ = "0.1.0"
