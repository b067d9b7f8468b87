"""Printed sheets: how do findings look on one page that goes home?

`sheet` gathers what the page says, ``sheet.typ`` sets it. Typesetting is the extra ``paper``; it is loaded
only when a sheet is made.
"""

from colophony.app.paper.sheet import make_sheet

__all__ = ["make_sheet"]
