"""With what force do hair and string hold each other? One module a published law, named author_year.

Each has its constants as a frozen dataclass, ``numbers`` that hands them to the kernel, and ``step``, the
body that advances one hair. `LAWS` gives each its number in the kernel.
"""

from __future__ import annotations

from typing import TypeAlias

from colophony.physics.friction.mcintyre_1979 import McIntyre1979
from colophony.physics.friction.smith_2000 import Smith2000
from colophony.physics.friction.van_walstijn_2026 import VanWalstijn2026

FrictionLaw: TypeAlias = VanWalstijn2026 | McIntyre1979 | Smith2000

#: Every law with its author_year name; its place is its number in the kernel.
LAWS: dict[str, type[FrictionLaw]] = {
    "van_walstijn_2026": VanWalstijn2026,
    "mcintyre_1979": McIntyre1979,
    "smith_2000": Smith2000,
}

__all__ = ["LAWS", "FrictionLaw", "McIntyre1979", "Smith2000", "VanWalstijn2026"]
