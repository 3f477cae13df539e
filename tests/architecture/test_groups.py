"""The groups of tests/conftest.py: run when found, named when not, failed when all are asked for."""

from pathlib import Path

import pytest

TWO_TESTS = """
    import pytest

    @pytest.mark.shared_data
    def test_of_the_group():
        assert True

    def test_by_fixture(shared_data):
        assert shared_data.is_dir()

    def test_of_no_group():
        assert True
"""


@pytest.fixture
def suite(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, root: Path) -> pytest.Pytester:
    """Return a folder with this project's conftest and three tests, in a quiet environment."""
    for name in ("REFUGE_TESTS", "REFUGE_SHARED_DATA", "REFUGE_TEST_POSTGIS_URL", "PYTEST_ADDOPTS"):
        monkeypatch.delenv(name, raising=False)
    pytester.makeconftest((root / "tests" / "conftest.py").read_text())
    pytester.makeini("[pytest]\nmarkers =\n  shared_data: a\n  postgis: b\n  browser: c\n")
    pytester.makepyfile(TWO_TESTS)
    return pytester


def run(suite: pytest.Pytester, *args: str) -> pytest.RunResult:
    return suite.runpytest_inprocess("-p", "no:cacheprovider", "-p", "no:randomly", "--strict-markers", *args)


def test_a_group_without_its_needs_is_skipped_and_named(
    suite: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("REFUGE_SHARED_DATA", "/nowhere")
    result = run(suite)
    result.assert_outcomes(passed=1, skipped=2)
    result.stdout.fnmatch_lines(
        ["left out: shared_data, 2 tests: /nowhere has no reports. To enable: *REFUGE_SHARED_DATA*"]
    )
    result.stdout.no_fnmatch_line("*left out: postgis*")


def test_a_group_with_its_needs_runs(suite: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    (suite.path / "data" / "reports").mkdir(parents=True)
    monkeypatch.setenv("REFUGE_SHARED_DATA", str(suite.path / "data"))
    result = run(suite)
    result.assert_outcomes(passed=3)
    result.stdout.no_fnmatch_line("*left out*")


def test_asking_for_all_turns_a_group_left_out_into_a_failure(
    suite: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("REFUGE_SHARED_DATA", "/nowhere")
    monkeypatch.setenv("REFUGE_TESTS", "all")
    result = run(suite)
    assert result.ret == pytest.ExitCode.TESTS_FAILED
    outcomes = result.parseoutcomes()
    assert outcomes["passed"] == 1
    assert outcomes.get("failed", 0) + outcomes.get("errors", 0) == 2
    assert "skipped" not in outcomes


@pytest.mark.parametrize("marker", ["postgis", "browser"])
def test_the_other_groups_follow_the_same_rule(
    suite: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, marker: str
) -> None:
    monkeypatch.setenv("REFUGE_TEST_BROWSER", "/nowhere/browser")
    suite.makepyfile(f"import pytest\n\n@pytest.mark.{marker}\ndef test_one():\n    assert True\n")
    result = run(suite)
    result.assert_outcomes(skipped=1)
    result.stdout.fnmatch_lines([f"left out: {marker}, 1 tests: * To enable: *"])
