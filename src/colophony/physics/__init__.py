"""How does a bowed string move?

May import `units` and `errors` only.
"""
