"""Which exercise, on this instrument, for this student? Exercises as data: targets, difficulty, passing.

`exercise` holds the values, `library` reads the shipped and a teacher's own exercises, `targets` computes
what an exercise asks of an instrument, `difficulty` weighs it against a student, `passing` checks a take,
and `words` says all of it to three readers.
"""
