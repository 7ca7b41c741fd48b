"""Tables into the record and out again."""

from dataclasses import replace

import pytest

from bedstone.desk.orders import cancel_order, set_order
from bedstone.desk.table_acts import keep_tables
from bedstone.desk.tables import (
    current_mill,
    difference,
    load_tables,
    mill_from_json,
    recorded_folder,
    revision_mill,
    tables_to_json,
    weather,
)
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.mill.model import Weather
from fakes.desk_day import MORNING, a_desk_mill, a_folder, an_order, later
from fakes.memory import MemoryRecord


def loaded() -> MemoryRecord:
    record = MemoryRecord()
    load_tables(record, a_folder(), by="osk", at=MORNING)
    return record


def test_tables_survive_json():
    """A mill written as plain values and read back is the same mill."""
    mill = a_desk_mill()
    assert mill_from_json(tables_to_json(mill)) == mill


def test_a_damaged_table_is_named_with_every_fault():
    """A row with an unknown field and a missing one is refused with both named."""
    content = tables_to_json(a_desk_mill())
    rows = content["tables"]["people"]
    rows[0]["hat"] = "red"
    del rows[0]["name"]
    with pytest.raises(BadInput) as caught:
        mill_from_json(content)
    assert {fault.file for fault in caught.value.faults} == {"people[0].hat", "people[0].name"}


def test_nothing_loaded_says_what_to_do():
    """An empty record has no mill and says how to load one."""
    with pytest.raises(Refused, match="bedstone load"):
        current_mill(MemoryRecord())


def test_first_load_enters_everything():
    """A first load makes revision 1 and enters orders, weather and opening stock."""
    record = MemoryRecord()
    report = load_tables(record, a_folder(), by="osk", at=MORNING)
    assert (report.revision, report.orders_set, report.weather_set, report.opening) == (1, 1, 1, 12)
    assert current_mill(record) == replace(a_desk_mill(), revision=1)
    assert {line.place: line.mass_mg for line in record.stock()}["G1"] == 9_000_000_000


def test_loading_again_changes_nothing():
    """Loading the same folder again makes no fact at all."""
    record = loaded()
    head = record.head()
    report = load_tables(record, a_folder(), by="osk", at=later(1))
    assert report.nothing_new
    assert record.head() == head


def test_loading_an_export_changes_nothing():
    """What the record writes as a folder makes no fact when it is loaded, even after changes."""
    record = loaded()
    set_order(record, an_order(mass_kg=6000.0), by="osk", at=later(1))
    set_order(record, an_order("4108"), by="osk", at=later(2))
    cancel_order(record, "4108", why="sold elsewhere", by="osk", at=later(3))
    head = record.head()
    assert load_tables(record, recorded_folder(record), by="osk", at=later(4)).nothing_new
    assert record.head() == head
    other = MemoryRecord()
    load_tables(other, recorded_folder(record), by="osk", at=later(4))
    assert recorded_folder(other) == recorded_folder(record)


def test_a_changed_table_is_a_new_revision_with_its_difference():
    """A changed cell, a new row and a missing row make one revision that says so in words."""
    record = loaded()
    mill = a_desk_mill()
    people = (replace(mill.people[0], name="Mara Ost"), replace(mill.people[1], person="oskar"))
    folder = a_folder(mill=replace(mill, people=people))
    said = (
        "people: osk is gone",
        "people: oskar is new",
        "people: mara: name was Mara Oss, is Mara Ost",
    )
    assert difference(record, folder) == said
    report = load_tables(record, folder, by="osk", at=later(1))
    assert (report.revision, report.changed) == (2, said)
    assert revision_mill(record, 1).people == mill.people
    assert current_mill(record).people == people
    with pytest.raises(Unknown, match="no revision 3"):
        revision_mill(record, 3)


def test_a_missing_order_or_hour_never_deletes():
    """A folder without its orders and weather leaves those of the record standing."""
    record = loaded()
    assert load_tables(record, a_folder(orders=(), weather=()), by="osk", at=later(1)).nothing_new
    assert len(recorded_folder(record).orders) == 1
    assert len(weather(record)) == 1


def test_only_changed_rows_make_facts():
    """Of two orders and two hours, only the new order and the changed hour make facts."""
    record = loaded()
    hour = Weather(hour_at=a_folder().weather[0].hour_at, temperature_c=9.0, humidity_frac=0.8)
    folder = a_folder(orders=(an_order(), an_order("4109")), weather=(hour,))
    assert difference(record, folder) == (
        "order 4109 is new",
        "weather: 1 hour new or changed",
    )
    report = load_tables(record, folder, by="osk", at=later(1))
    assert (report.orders_set, report.weather_set, report.changed) == (1, 1, ())
    assert weather(record) == (hour,)


def test_an_old_folder_cannot_undo_what_was_recorded_since():
    """A folder that still has an order open, which was cancelled on a page, does not reopen it."""
    record = loaded()
    cancel_order(record, "4107", why="withdrawn", by="osk", at=later(1))
    assert difference(record, a_folder()) == ()
    assert load_tables(record, a_folder(), by="osk", at=later(2)).nothing_new
    assert recorded_folder(record).orders[0].status == "cancelled"


def test_opening_stock_enters_only_an_empty_record():
    """Once anything was moved, opening stock of a folder is not entered again."""
    record = loaded()
    more = tuple(replace(row, lot=f"{row.lot}-X") for row in a_folder().opening_stock)
    assert load_tables(record, a_folder(opening_stock=more), by="osk", at=later(1)).nothing_new


def changed_on_the_pages(record: MemoryRecord) -> None:
    """A bin gets another name on the pages, so that the folder is older than the record."""
    mill = current_mill(record)
    bins = (replace(mill.bins[0], name="renamed on the pages"), *mill.bins[1:])
    keep_tables(
        record, replace(mill, bins=bins), base_revision=1, why="a new sign", by="osk", at=later(60)
    )


def test_an_untouched_folder_takes_nothing_back_that_the_pages_changed():
    """Its tables are old news: what was kept on the pages stands, orders still enter."""
    record = loaded()
    changed_on_the_pages(record)
    folder = a_folder()
    orders = (*folder.orders, replace(folder.orders[0], order="A-NEW-ONE"))
    report = load_tables(record, replace(folder, orders=orders), by="osk", at=later(120))
    assert report.is_older
    assert (report.revision, report.changed, report.orders_set) == (2, (), 1)
    assert current_mill(record).bins[0].name == "renamed on the pages"
    assert difference(record, folder) == ()


def test_an_older_folder_that_was_edited_is_refused_with_what_it_would_take_back():
    """It would undo what the pages changed; the folder as exported now, edited alike, is loaded."""
    record = loaded()
    changed_on_the_pages(record)
    folder = a_folder()

    def edited(bins: tuple) -> tuple:
        return (*bins[:-1], replace(bins[-1], name="edited in the folder"))

    old = replace(folder, mill=replace(folder.mill, bins=edited(folder.mill.bins)))
    with pytest.raises(Refused, match="take back") as caught:
        load_tables(record, old, by="osk", at=later(120))
    assert "renamed on the pages" in caught.value.seen
    fresh = recorded_folder(record)
    fresh = replace(fresh, mill=replace(fresh.mill, bins=edited(fresh.mill.bins)))
    assert load_tables(record, fresh, by="osk", at=later(180)).revision == 3
    assert current_mill(record).bins[0].name == "renamed on the pages"


def test_a_folder_may_go_back_to_what_it_was():
    """Loaded, changed and loaded, changed back and loaded: the newest folder stands."""
    record = loaded()
    folder = a_folder()
    bins = (replace(folder.mill.bins[0], name="for a day"), *folder.mill.bins[1:])
    other = replace(folder, mill=replace(folder.mill, bins=bins))
    assert load_tables(record, other, by="osk", at=later(60)).revision == 2
    assert load_tables(record, folder, by="osk", at=later(120)).revision == 3
    assert current_mill(record).bins == folder.mill.bins
