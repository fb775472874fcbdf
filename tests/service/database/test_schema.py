from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect

from service.database.engine import open_engine
from service.database.schema import downgrade, revision_of, upgrade
from service.database.tables import metadata


def test_the_migrations_make_exactly_the_tables(engine):
    with engine.begin() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "target_metadata": metadata}
        )
        assert compare_metadata(context, metadata) == []


def test_migrating_down_leaves_nothing_and_up_again_everything(tmp_path):
    engine = open_engine(tmp_path / "record.sqlite")
    assert revision_of(engine) is None
    upgrade(engine)
    downgrade(engine)
    assert set(inspect(engine).get_table_names()) <= {"alembic_version"}
    upgrade(engine)
    assert set(metadata.tables) <= set(inspect(engine).get_table_names())


def test_every_row_belongs_to_a_site():
    without = {name for name, table in metadata.tables.items() if "site_id" not in table.c}
    assert without == {"sites", "sign_in_failures"}, "a failed sign-in has no site yet"


def test_the_queue_names_columns_that_the_table_has():
    from service.work_queue.queue import COLUMNS

    assert set(COLUMNS) == set(metadata.tables["work"].c.keys())
