"""What did the string do in this recording?

May import `physics`, `units` and `errors`; sees no database, network, clock or terminal.
"""
