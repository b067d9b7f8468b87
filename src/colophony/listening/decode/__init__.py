"""A sound or video file as mono samples, block by block, whatever a phone or recorder wrote.

`Recording` is the one way in. Only the bytes of the file it was given are ever read (`source`);
channels become one (`mixing`); what was lost to overload is counted (`clipping`).
"""

from colophony.listening.decode.recording import MAX_TAKE_S, Recording

__all__ = ["MAX_TAKE_S", "Recording"]
