"""What can hurt in practising, in the words that every sheet and page carries.

Not medical or legal advice: each caution sends the reader on to a doctor, the teacher or the local law.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from colophony.teaching.findings import Reader, Say

#: NIOSH, "Criteria for a recommended standard: occupational noise exposure", publication 98-126 (1998):
#: 85 dBA over 8 hours, halved for every 3 dB more.
NIOSH_LEVEL_DBA = 85.0
NIOSH_HOURS = 8.0
NIOSH_EXCHANGE_DB = 3.0
#: Children: WHO and ITU-T H.870 (2018), 75 dBA for 40 hours a week where adults have 80. From memory.
CHILD_LEVEL_DBA = 75.0


def allowed_hours(level_dba: float) -> float:
    """Return the daily hours that NIOSH (1998) allows an adult at a steady A-weighted level in dB."""
    return NIOSH_HOURS / math.pow(2.0, (level_dba - NIOSH_LEVEL_DBA) / NIOSH_EXCHANGE_DB)


CAUTIONS: Mapping[str, Say] = MappingProxyType(
    {
        # Up to 67 % of children who learn an instrument report playing-related problems: S. Ranelli,
        # A. Smith and L. Straker, survey of Australian schools (read in copies, not in the journal).
        "pain": Say(
            child="Stop if anything hurts, and tell a grown-up.",
            adult="Stop when anything hurts, tingles or goes numb. If it comes back, see a doctor and tell "
            "the teacher.",
            teacher="Stop on pain, tingling or numbness; send a student whose trouble returns to a doctor.",
        ),
        # Five minutes in every half hour: common practice, no source.
        "breaks": Say(
            child="Rest a little after each exercise.",
            adult="Short and often is better than long: about five minutes' rest in every half hour, less "
            "at a time for a small child. Your teacher knows what suits you.",
            teacher="About five minutes' rest in every half hour, shorter spells for small children.",
        ),
        # Practice rooms: mean 87 to 95 dBA, S. L. Phillips and S. Mace, Music Performance Research 2,
        # 36-47 (2008). Left ear of high strings 4.6 dB above the right: J. H. Schmidt et al., Ann. Occup.
        # Hyg. 55, 893-905 (2011).
        "ears": Say(
            child="Loud for long can harm your ears. Rest them too.",
            adult="A bowed instrument is loud at the ear. NIOSH (1998) allows an adult 85 dBA for 8 hours "
            "a day, half the time for every 3 dB more; children need less. If your ears ring, see a doctor.",
            teacher="NIOSH (1998): 85 dBA for 8 hours, halved for every 3 dB more; children less (WHO and "
            "ITU). The left ear takes more. Ringing ears belong to a doctor.",
        ),
        "microphone": Say(
            child="A phone cannot tell how loud is safe.",
            adult="A phone's microphone is not calibrated: no level shown here says that a sound is safe.",
            teacher="Levels from a phone are relative; they say nothing about a safe dose.",
        ),
        # GDPR article 8 (age 16, member states may lower it to 13); COPPA (under 13), United States.
        "recordings": Say(
            child="Ask a parent before you record or share.",
            adult="A recording of a child is personal: keep and share it only with the consent of a parent "
            "or guardian, as the law where you live requires.",
            teacher="Record and keep a minor's playing only with a guardian's consent; local law decides "
            "on age and form.",
        ),
    }
)

#: Those that go home on every sheet.
ON_EVERY_SHEET = ("pain", "breaks", "ears", "microphone", "recordings")


def caution(name: str, *, reader: Reader = "adult") -> str:
    """Return one caution by name; raises `KeyError` for an unknown name."""
    return CAUTIONS[name].to(reader)


def all_cautions(*, reader: Reader = "adult") -> tuple[str, ...]:
    """Return the cautions of every sheet, in their order."""
    return tuple(caution(name, reader=reader) for name in ON_EVERY_SHEET)
