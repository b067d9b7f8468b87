"""Colophony: hear, explain and improve the tone of a bowed string."""

__version__ = "0.1.0"
