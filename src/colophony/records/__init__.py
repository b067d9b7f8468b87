"""What is remembered?

May import `teaching` and everything below it. The domain's classes know no SQL.
"""
