"""A program that works in a studio beside others: run by `test_together.py`.

Arguments: the studio's folder, the student's name, then recordings to file one after another.
"""

from __future__ import annotations

import sys
from pathlib import Path

from colophony.app.studio import hear_and_file, open_studio
from studio_samples import NOON, make_findings


def main(folder: Path, name: str, recordings: list[Path]) -> None:
    print("ready", flush=True)
    sys.stdin.readline()  # so that all start at one moment
    with open_studio(folder) as studio:
        for recording in recordings:
            student = studio.find_student(name)
            hear_and_file(studio, student, recording, lambda path: make_findings(path.name), taken_at=NOON)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], [Path(name) for name in sys.argv[3:]])
