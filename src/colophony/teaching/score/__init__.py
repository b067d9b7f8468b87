"""How is the bow spent over a piece? Directions, hair, speed, place and weight of every stroke of a part.

`piece` holds a part as it is played, `strokes` the plan. Planning works on these plain values alone: it
knows no file, no page and no string but those it is handed.
"""
