"""The plans that the pages know: kept ones, and those of students whose takes may not be kept."""

from __future__ import annotations

from datetime import date

from starlette.requests import Request

from colophony.app.kept_maps import KeptMaps
from colophony.app.own_exercises import every_exercise, title_of
from colophony.app.practice import keep_plan
from colophony.app.web.desk import Desk
from colophony.records.domain import Student
from colophony.teaching.plans import Plan, plan_from_plain


class Plans:
    """One server's plans. Those of students whose takes may not be kept are remembered, never written."""

    def __init__(self, maps: KeptMaps | None = None) -> None:
        """Remember none; computed maps are kept in ``maps``."""
        self.maps = maps
        self._unkept: dict[int, Plan] = {}

    def find(self, desk: Desk, student: Student) -> Plan | None:
        """Return a student's latest plan, None without any.

        One that may not be kept is later than what was kept before the consent was withdrawn.
        """
        if student.id in self._unkept:
            return self._unkept[student.id]
        kept = desk.studio.latest_plan(student.id)
        return None if kept is None else plan_from_plain(kept.content)

    def is_kept(self, student: Student) -> bool:
        """Tell whether the plan that `find` returns is kept."""
        return student.id not in self._unkept

    def keep(self, desk: Desk, student: Student, plan: Plan, *, on: date) -> None:
        """Keep a plan where consent allows it; else remember it for as long as the server runs."""
        if keep_plan(desk.studio, student, plan, made_on=on):
            self._unkept.pop(student.id, None)
        else:
            self._unkept[student.id] = plan

    def forget_student(self, student_id: int) -> None:
        """Forget the plan of a student now."""
        self._unkept.pop(student_id, None)


def plans_of(request: Request) -> Plans:
    """Return the plans of the server that a request reached."""
    plans = request.app.state.plans
    assert isinstance(plans, Plans)
    return plans


def exercises_to_check(request: Request, desk: Desk, student: Student) -> list[tuple[str, str]]:
    """Return (key, title) of the exercises that a take may have been, those of the plan first."""
    plan = plans_of(request).find(desk, student)
    planned = [item.exercise for item in plan.items] if plan else []
    rest = [one for one in every_exercise(desk.studio) if one.key not in {item.key for item in planned}]
    return [(one.key, title_of(one)) for one in (*planned, *rest)]
