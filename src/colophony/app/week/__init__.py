"""The week as one file that sounds: how do a target and its usual failure sound and look on this instrument?

One HTML page that carries its style, fonts, script and sound inside and asks the network for nothing; every
tone on it is a simulation of this string. May import `paper`, `look`, `bench`, `bow` and `teaching`.
"""

from colophony.app.week.page import make_week_page

__all__ = ["make_week_page"]
