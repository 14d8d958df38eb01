"""What every test shares: the hypothesis profiles, and the rule that data beside the tree must be there in CI."""

from __future__ import annotations

import os
from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared"

# A deadline measures the machine, not the code: times are held by benchmarks/ and the start-up tests.
settings.register_profile("dev", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.register_profile(
    "long", deadline=None, max_examples=5_000, suppress_health_check=[HealthCheck.too_slow]
)


def in_ci() -> bool:
    """Whether this run decides if a change is kept."""
    return os.environ.get("CI", "").lower() in ("1", "true", "yes")


settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if in_ci() else "dev"))


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder of the project."""
    return ROOT


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of shared data beside the project; the test is skipped where there is none.

    A test that asks for it is marked ``shared_data`` without saying so.
    """
    if not SHARED.is_dir():
        pytest.skip("there is no folder `shared` beside the project")
    return SHARED


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test that uses the shared folder."""
    for item in items:
        if "shared" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.shared_data)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """In CI a test on shared data that was skipped has failed."""
    report = yield
    if (
        in_ci()
        and report.skipped
        and not hasattr(report, "wasxfail")
        and item.get_closest_marker("shared_data") is not None
    ):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid}: a test on shared data must not be skipped in CI ({reason})"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """In CI no whole file may skip itself: its marks cannot be seen."""
    report = yield
    if in_ci() and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"{collector.nodeid}: a whole test file must not be skipped in CI"
    return report
