"""A talk for a room: which demonstrations, on which string; played, drawn, and carried away in one file.

`sequence` is the talk as a teacher arranges it and as an address holds it, `played` lets the engine play its
strokes, `pictures` draws them, `page` makes the page that is shown, in the studio or as one offline file.
"""

from colophony.app.talk.page import offline_page, shown_page
from colophony.app.talk.played import PlayedStroke, Shown, play_demonstration
from colophony.app.talk.sequence import Talk

__all__ = ["PlayedStroke", "Shown", "Talk", "offline_page", "play_demonstration", "shown_page"]
