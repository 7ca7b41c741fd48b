"""The form of a PostgreSQL database held against what the migrations make, and how it is kept."""

import re
from collections.abc import Iterator
from typing import Final

from sqlalchemy import Connection, text

from bedstone.store.database import Database
from bedstone.store.form import Objects, differences
from bedstone.store.upgrade import migrate

__all__ = ["server_faults"]

_SAFE: Final = {"fsync": "on", "full_page_writes": "on"}
"""Settings of the server without which what it has confirmed may be lost when the power fails."""

_OBJECTS: Final = """
WITH mine AS (
    SELECT c.oid, c.relname, c.relkind, c.relpersistence, c.relrowsecurity
    FROM pg_class c WHERE c.relnamespace = (
        CASE WHEN :temporary THEN pg_my_temp_schema() ELSE current_schema()::regnamespace END)
)
SELECT 'table', relname, relname, concat_ws(', ',
    CASE relpersistence WHEN 'u' THEN 'unlogged' END,
    CASE WHEN relrowsecurity THEN 'row security' END,
    (SELECT string_agg(concat_ws(' ', attname, format_type(atttypid, atttypmod),
            CASE WHEN attnotnull THEN 'not null' END, (SELECT collname FROM pg_collation WHERE oid = attcollation),
            (SELECT pg_get_expr(adbin, adrelid) FROM pg_attrdef
             WHERE adrelid = attrelid AND adnum = attnum)), ', ' ORDER BY attnum)
     FROM pg_attribute WHERE attrelid = mine.oid AND attnum > 0 AND NOT attisdropped),
    (SELECT 'switched off: ' || string_agg(tgname, ', ' ORDER BY tgname) FROM pg_trigger
     WHERE tgrelid = mine.oid AND tgisinternal AND tgenabled <> 'O'))
    FROM mine WHERE relkind IN ('r', 'p', 'f')
UNION ALL SELECT 'constraint', conname, relname, pg_get_constraintdef(k.oid)
    FROM pg_constraint k JOIN mine ON mine.oid = conrelid WHERE contype <> 'n'
UNION ALL SELECT 'index', x.relname, t.relname, pg_get_indexdef(i.indexrelid) ||
        CASE WHEN i.indisvalid AND i.indisready THEN '' ELSE ' not valid' END
    FROM pg_index i JOIN mine x ON x.oid = i.indexrelid JOIN mine t ON t.oid = i.indrelid
UNION ALL SELECT 'view', relname, relname, pg_get_viewdef(oid)
    FROM mine WHERE relkind IN ('v', 'm')
UNION ALL SELECT 'trigger', tgname, relname, pg_get_triggerdef(g.oid) || tgenabled::text
    FROM pg_trigger g JOIN mine ON mine.oid = tgrelid WHERE NOT tgisinternal
UNION ALL SELECT 'rule', rulename, relname, pg_get_ruledef(r.oid)
    FROM pg_rewrite r JOIN mine ON mine.oid = ev_class WHERE relkind IN ('r', 'p', 'f')
"""


def server_faults(database: Database) -> Iterator[str]:
    """Yield what of the database is not as the migrations make it, and what its server may lose."""
    with database.trying() as connection:
        found = _objects(connection, temporary=False)
        connection.exec_driver_sql("SET LOCAL search_path TO pg_temp")
        migrate(connection)  # beside the record, for this moment alone
        yield from differences(found, _objects(connection, temporary=True))
    with database.reading() as connection:
        for name, wanted in _SAFE.items():
            is_set = connection.exec_driver_sql(f"SHOW {name}").scalar()
            if is_set != wanted:
                yield f"the server's {name} is {is_set}: what it confirmed may be lost with the power"


def _objects(connection: Connection, *, temporary: bool) -> Objects:
    rows = connection.execute(text(_OBJECTS), {"temporary": temporary})
    return {
        (str(kind), str(name)): (str(table), re.sub(r"\b(pg_temp_\d+|\w+)\.(?=\w)", "", str(words)))
        for kind, name, table, words in rows
    }
