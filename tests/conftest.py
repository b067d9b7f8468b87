"""Shared by all tests. Its place puts this folder on the import path: ``import factories``.

With ``COLOPHONY_NO_SKIP=1`` a skipped test is a failed one: there every test can run, so it must.
"""

from __future__ import annotations

import os
from collections.abc import Generator

import pytest

pytest_plugins = ("browser",)

_SKIPPING_FORBIDDEN = os.environ.get("COLOPHONY_NO_SKIP") == "1"


def _fail_if_skipped(report: pytest.TestReport | pytest.CollectReport) -> None:
    if _SKIPPING_FORBIDDEN and report.outcome == "skipped" and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"skipping is forbidden here: {reason}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    _fail_if_skipped(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    _fail_if_skipped(report)
    return report
