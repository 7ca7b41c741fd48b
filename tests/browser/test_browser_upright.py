"""A tablet held upright: nothing is cut, fields are large enough, Back leads to the form."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from fakes.page_server import PageMill
from fakes.screen import CUT, SMALL, UPRIGHT


@pytest.mark.parametrize("path", ["/", "/batches/4105-01", "/trace?lot=L-CORN-GR", "/orders"])
def test_nothing_is_cut_and_everything_can_be_touched(
    read_mill: PageMill, window: Callable[..., Page], path: str
):
    """At 800 by 1200 no table or picture is wider than its frame and no field below 44 pixels."""
    page = window(read_mill, "mara", viewport=UPRIGHT)
    page.goto(path)
    assert page.evaluate(CUT) == []
    assert page.evaluate(SMALL) == []


def test_back_from_a_refused_form_leads_to_the_form(mill: PageMill, window: Callable[..., Page]):
    """After a refusal Reload shows it again and Back the form; nothing is sent a second time."""
    page = window(mill, "mara", viewport=UPRIGHT)
    page.goto("/batches/4107-01")
    sent = []
    page.on("request", lambda one: sent.append(one.url) if one.method == "POST" else None)
    page.get_by_role("button", name="Start this batch").click()
    expect(page.get_by_role("alert")).to_contain_text("must not start now")
    page.reload()
    expect(page.get_by_role("alert")).to_contain_text("must not start now")
    page.go_back()
    expect(page.get_by_role("button", name="Start this batch")).to_be_visible()
    assert page.url.endswith("/batches/4107-01")
    assert len(sent) == 1
