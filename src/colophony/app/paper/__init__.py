"""Printed sheets: how do findings, a week and the strips to cut out look on paper that goes home?

``sheet`` is the page of one take, ``week`` that of a week's plan, ``strip`` the strips true to scale; each
has its words and a ``.typ`` file that sets it, through `typeset`. Typesetting is the extra ``paper``, loaded
only when a page is made.
"""

from colophony.app.paper.sheet import make_sheet
from colophony.app.paper.strip import make_strips
from colophony.app.paper.week import make_week_sheet

__all__ = ["make_sheet", "make_strips", "make_week_sheet"]
