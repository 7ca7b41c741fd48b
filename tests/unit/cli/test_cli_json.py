"""Answers as JSON: what JSON cannot say is null."""

import json

import pytest

from bedstone.cli.answer import print_json


def test_a_number_that_is_not_finite_is_null(capsys: pytest.CaptureFixture[str]) -> None:
    """Infinity, wherever it stands in an answer, is printed as null; what is finite stays."""
    print_json({"size_sd": float("inf"), "rows": [1.5, -float("inf"), {"left": float("nan")}]})
    assert json.loads(capsys.readouterr().out) == {
        "size_sd": None,
        "rows": [1.5, None, {"left": None}],
    }
