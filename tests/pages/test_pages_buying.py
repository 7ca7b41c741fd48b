"""Which bin, levels, what to buy and supplier cards, as pages."""

from fakes.page_server import PageMill


def test_a_load_is_ranked_and_every_bin_says_why(read_mill: PageMill):
    """The page names bins for a load, each with a sentence; a slip is said and keeps what was typed."""
    page = read_mill.visitor().get("/which-bin?ingredient=CORN&mass=1000")
    assert page.status_code == 200
    assert "Which bin for a load" in page.text
    slip = read_mill.visitor().get("/which-bin?ingredient=CORN&mass=many")
    assert slip.status_code == 400
    assert 'value="many"' in slip.text
    assert read_mill.visitor().get("/which-bin?ingredient=NONE&mass=10").status_code == 404


def test_an_ingredient_without_a_mass_opens_the_form(read_mill: PageMill):
    """The link of the buying list chooses the ingredient and asks for the mass; that is no fault."""
    page = read_mill.visitor().get("/which-bin?ingredient=CORN")
    assert page.status_code == 200
    assert '<option value="CORN" selected>' in page.text
    assert "cannot be understood" not in page.text


def test_pages_of_levels_buying_and_suppliers_answer(read_mill: PageMill):
    """Each has its heading, and says so where nothing is on record."""
    for address, heading in (
        ("/levels", "Levels against the books"),
        ("/buying", "What to buy"),
        ("/suppliers", "Suppliers"),
    ):
        page = read_mill.visitor().get(address)
        assert page.status_code == 200
        assert f"<h1>{heading}</h1>" in page.text
