"""Kerfside: plans the cuts of a scroll-saw pattern and walks the sawyer through them."""

__version__ = "0.1.0"
