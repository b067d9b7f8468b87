"""MIDI becomes MusicXML: measures, ties and spelling are what music21 makes of the times of the notes."""

from __future__ import annotations

from colophony.app.score.music import music21
from colophony.errors import InputError
from colophony.language import _

#: An hour at 100 quarter notes a minute: longer silence would be written out measure by measure.
_MOST_QUARTERS = 6_000


def midi_to_musicxml(data: bytes, *, name: str, most_notes: int) -> bytes:
    """Return a MIDI file as MusicXML; raises `InputError` for a damaged, empty, huge or endless one."""
    with music21() as library:
        try:
            midi = library.midi.MidiFile()
            midi.readstr(data)
            ticks = midi.ticksPerQuarterNote
            longest = max(
                (sum(event.time for event in track.events if event.isDeltaTime()) for track in midi.tracks),
                default=0,
            )
            notes = sum(event.isNoteOn() for track in midi.tracks for event in track.events)
        except Exception as error:  # the library's parser raises whatever its bytes lead to
            raise InputError(_("{name} is a damaged MIDI file: export it again").format(name=name)) from error
        if notes > most_notes:
            raise InputError(
                _("{name} has more than {limit} notes: give one movement at a time").format(
                    name=name, limit=most_notes
                )
            )
        if ticks <= 0 or longest / ticks > _MOST_QUARTERS:
            raise InputError(
                _("{name} is longer than {limit} quarter notes: give one movement at a time").format(
                    name=name, limit=_MOST_QUARTERS
                )
            )
        # A title and a composer that nobody wrote are not to stand on the page.
        library.defaults.title = library.defaults.author = ""
        try:
            score = library.midi.translate.midiFileToStream(midi)
            if not score.recurse().notes:
                raise InputError(
                    _("{name} holds no note with a pitch: is it the right file?").format(name=name)
                )
            text: bytes = library.musicxml.m21ToXml.GeneralObjectExporter(score).parse()
        except InputError:
            raise
        except Exception as error:
            raise InputError(
                _("{name} cannot be written as notes: export MusicXML instead").format(name=name)
            ) from error
    return text
