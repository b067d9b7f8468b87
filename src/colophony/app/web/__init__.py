"""How does a person reach the studio in a browser? Pages, served to this computer only.

May import everything of `colophony.app` and below; nothing imports it but the command ``studio serve``.
"""
