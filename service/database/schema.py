"""Brings a database to the newest tables, by Alembic, and tells which revision it has."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from sqlalchemy import Connection, Engine

MIGRATIONS = Path(__file__).parent / "migrations"


def upgrade(engine: Engine, revision: str = "head") -> None:
    """Migrate up to `revision`, in one transaction. Migrations MUST NOT rewrite entries."""
    with engine.execution_options(writes=True).begin() as connection:
        command.upgrade(_config(connection), revision)


def downgrade(engine: Engine, revision: str = "base") -> None:
    """Migrate down to `revision`."""
    with engine.execution_options(writes=True).begin() as connection:
        command.downgrade(_config(connection), revision)


def revision_of(engine: Engine) -> str | None:
    """Return the revision that the database is at; None for an empty one."""
    with engine.begin() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def _config(connection: Connection) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.attributes["connection"] = connection
    return config
