"""One table of who may do what."""

import pytest

from bedstone.desk.roles import ACTS, check, may
from bedstone.errors import Refused, Unknown
from bedstone.mill.equipment import ROLES
from bedstone.mill.model import Mill, Person
from fakes.small_mill import a_mill


@pytest.fixture
def mill() -> Mill:
    """A mill with one person of each role, named by it."""
    from dataclasses import replace

    people = tuple(
        Person(person=role.replace(" ", "-"), name=role.title(), role=role) for role in ROLES
    )
    return replace(a_mill(), people=people)


@pytest.mark.parametrize("act", ACTS)
def test_an_inspector_may_do_nothing_and_a_manager_everything(act: str, mill: Mill) -> None:
    """Whatever the act, an inspector is refused with who may, and a manager is let go on."""
    check(mill, "manager", act)
    with pytest.raises(Refused) as refused:
        check(mill, "inspector", act)
    assert "records nothing" in refused.value.what
    assert "manager" in refused.value.allowed


@pytest.mark.parametrize("role", sorted(set(ROLES) - {"manager"}))
def test_only_a_manager_releases(role: str, mill: Mill) -> None:
    """Nobody but a manager may release a plan; the refusal names the manager."""
    assert not may(role, "release")
    with pytest.raises(Refused) as refused:
        check(mill, role.replace(" ", "-"), "release")
    assert "manager (here: manager)" in refused.value.allowed


def test_somebody_unknown_may_do_nothing(mill: Mill) -> None:
    """A code that is not in the people table is named as such."""
    with pytest.raises(Unknown, match="zorro"):
        check(mill, "zorro", "pins")
