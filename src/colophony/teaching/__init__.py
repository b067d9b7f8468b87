"""What next, and how to say it?

May import `listening`, `physics`, `units` and `errors`; sees no database, network, clock or terminal.
"""
