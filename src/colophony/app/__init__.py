"""How does a person reach it?

The outermost layer: settings, use cases, command line, web pages, printed sheets.
Web and command line meet only in use cases.
"""
