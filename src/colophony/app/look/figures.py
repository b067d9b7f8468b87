"""Numbers as a reader meets them: the unit held to them, true minus, and a dash where nothing is known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from types import MappingProxyType

from colophony.language import N_, _, figures, note_name

#: Stands where a take cannot tell.
UNKNOWN = "–"
_HELD = "\u00a0"
_MINUS = "\u2212"
_MONTHS = (
    *(N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"), N_("July")),
    *(N_("August"), N_("September"), N_("October"), N_("November"), N_("December")),
)


def signed(value: float, digits: int = 0) -> str:
    """A number with its sign, true minus included; zero has none."""
    text = f"{abs(value):.{digits}f}"
    if float(text) == 0.0:
        return figures(text)
    return ("+" if value > 0 else _MINUS) + figures(text)


def with_unit(value: float | None, unit: str, digits: int = 0) -> str:
    """A number without sign and its unit, or the dash."""
    if value is None:
        return UNKNOWN
    return figures(f"{value:.{digits}f}").replace("-", _MINUS) + _HELD + unit


def plain(value: float) -> str:
    """A number as short as it is: ``27.5``."""
    return figures(f"{value:g}")


def seconds(value: float | None) -> str:
    """Seconds with one decimal: ``2.0 s``."""
    return with_unit(value, "s", 1)


def duration(value: float) -> str:
    """How long a take is: ``11.6 s``, from a minute on ``7 min 6 s``."""
    if value < 60.0:
        return seconds(value)
    minutes, rest = divmod(round(value), 60)
    return f"{minutes}{_HELD}min {rest}{_HELD}s"


def clock(value: float) -> str:
    """A place in a take: ``0:03.5`` below ten minutes, minutes and whole seconds from there on."""
    tenths = round(value * 10)
    minutes, rest = divmod(tenths, 600)
    if minutes >= 10:
        return f"{minutes}:{rest // 10:02d}"
    return figures(f"{minutes}:{rest // 10:02d}.{rest % 10}")


def day_and_month(value: date) -> str:
    """A day without its year: ``14 March``."""
    return _("{day} {month}").format(day=value.day, month=_(_MONTHS[value.month - 1]))


def day(value: date) -> str:
    """A day in words, ``14 March 2025``; with the time of day, by this computer's clock, where known."""
    if not isinstance(value, datetime):
        return _("{day} {month} {year}").format(
            day=value.day, month=_(_MONTHS[value.month - 1]), year=value.year
        )
    local = value.astimezone() if value.tzinfo else value
    return _("{date}, {time}").format(date=day(local.date()), time=f"{local:%H:%M}")


def cents(value: float | None) -> str:
    """Distance from equal temperament: ``+4 cents``."""
    return UNKNOWN if value is None else f"{signed(value)}{_HELD}{_('cents')}"


def decibels(value: float | None) -> str:
    """A level with one decimal: ``−3.2 dB``."""
    return with_unit(value, "dB", 1)


def percent(value: float | None) -> str:
    """A share from 0 to 1 as ``80 %``."""
    return UNKNOWN if value is None else f"{100 * value:.0f}{_HELD}%"


def note(name: str | None) -> str:
    """A note's name with the engraver's accidentals, ``C♯4``, ``B♭3``, as the language's players call it."""
    if not name:
        return UNKNOWN
    return note_name(name[0] + name[1:].replace("#", "♯").replace("b", "♭"))


def first_sentence(text: str) -> tuple[str, str]:
    """A text parted behind its first sentence; the second part is empty when there is but one."""
    head, stop, tail = text.partition(". ")
    return (head + stop.strip(), tail) if tail else (text, "")


FILTERS: Mapping[str, Callable[..., object]] = MappingProxyType(
    {
        "seconds": seconds,
        "duration": duration,
        "clock": clock,
        "cents": cents,
        "decibels": decibels,
        "percent": percent,
        "note": note,
        "day": day,
        "plain": plain,
        "with_unit": with_unit,
        "first_sentence": first_sentence,
    }
)
