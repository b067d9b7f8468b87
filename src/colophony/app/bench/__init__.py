"""The String bench: what does the string answer to this bow?

`setting` holds what a player chooses and checks it, `answer` lets the engine play it and says what came of
it, `presets` are settings that show the states that a steady bow usually reaches, `pictures` draw the
motion. Pages and commands meet here.
"""

from colophony.app.bench.answer import Answer, Cure, find_cure, play
from colophony.app.bench.presets import PRESETS, Preset
from colophony.app.bench.setting import Limits, Setting, limits_of

__all__ = ["PRESETS", "Answer", "Cure", "Limits", "Preset", "Setting", "find_cure", "limits_of", "play"]
