"""A mill folder torn at random: faults, or a mill, and nothing else."""

import tempfile
from pathlib import Path

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bedstone.errors import BadInput, Fault
from bedstone.mill.folder import LoadedFolder
from bedstone.store.folder import read_folder
from fakes.folders import Files, good_files, put

NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)
GOOD = good_files()
NAMES = st.sampled_from(sorted(GOOD))
SPITE = st.sampled_from(
    [
        *b'|,|\n|"|#|\x00|\xff|-|0|nan|>|=|[|yes|B01|MX1|PIG-GR|CORE|2026-11-24|#REF!|\xe2\x80\xa8'.split(
            b"|"
        ),
        b"|",
        b"9" * 400,
        b"9" * 308,
    ]
)


def faults_of(files: Files) -> tuple[Fault, ...]:
    """Return the faults of a folder, none if it is good; whatever else is raised goes through."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            loaded = read_folder(put(files, Path(folder)))
        except BadInput as bad:
            return bad.faults or (Fault(found="", allowed=""),)
    assert isinstance(loaded, LoadedFolder)
    assert "DAMAGED" not in repr(loaded)
    return ()


@settings(max_examples=150, deadline=None, phases=NO_SHRINKING)
@given(st.lists(st.tuples(NAMES, st.integers(0, 5000), st.integers(0, 40), SPITE), max_size=6))
def test_torn_folder_gives_faults_or_a_mill(tears: list[tuple[str, int, int, bytes]]):
    """Whatever bytes are cut out or put in, the answer is BadInput with faults, or a whole mill."""
    files = dict(GOOD)
    for name, at, cut, new in tears:
        data = files[name]
        place = at % (len(data) + 1)
        files[name] = data[:place] + new + data[place + cut :]
    assert all(fault.file and fault.found and fault.allowed for fault in faults_of(files))


CELLS = st.one_of(
    st.text(max_size=12), st.sampled_from(["1e9999", "-0", "1" * 30, "٣", "½", "1_0"])
)


@settings(max_examples=100, deadline=None, phases=NO_SHRINKING)
@given(
    NAMES.filter(lambda name: name.endswith(".csv")), st.integers(1, 40), st.integers(0, 12), CELLS
)
def test_any_text_in_any_cell_gives_faults_or_a_mill(name: str, row: int, column: int, text: str):
    """Any text in any one cell is read, or is a fault; never anything else."""
    lines = GOOD[name].decode().splitlines()
    at = row % len(lines)
    cells = lines[at].split(",")
    cells[column % len(cells)] = '"' + text.replace('"', '""') + '"'
    lines[at] = ",".join(cells)
    data = ("\n".join(lines) + "\n").encode("utf-8", "surrogatepass")
    faults = faults_of({**GOOD, name: data})
    assert all(fault.file and fault.found and fault.allowed for fault in faults)
