"""The findings as one file: how does a take, heard and worded, travel without the studio?

One HTML page that carries its style, fonts, script and sound inside and asks the network for nothing.
May import `look`, `teaching` and `listening`.
"""

from colophony.app.report.page import make_report

__all__ = ["make_report"]
