"""Whether the tables on a server are ours, how old they are, and how they come to the present version.

All migrations run in one transaction under a lock that whoever else opens the tables waits for; PostgreSQL undoes even
new tables when it fails.
"""

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext, RevisionStep
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from rampwarden.database.schema import Schema

OUR_SCHEMA = "rampwarden"

# PostgreSQL's own way to compare without regard to large and small letters (documentation, 24.2.2.4).
_NOCASE = (
    f"CREATE COLLATION IF NOT EXISTS {OUR_SCHEMA}.nocase "
    "(provider = icu, locale = 'und-u-ks-level2', deterministic = false)"
)
_OTHERS = (
    "SELECT count(*) FROM pg_catalog.pg_tables "
    f"WHERE schemaname NOT IN ('pg_catalog', 'information_schema', '{OUR_SCHEMA}')"
)


def prepare(name: str, schema: Schema, engine: Engine, connection: Connection, *, create: bool) -> None:
    """Make the tables ready for use; raises the schema's error for those of another program or of a newer version."""
    scripts = _scripts(schema)
    if not _has_table(connection, schema.version_table):
        if _has_table(connection, schema.own_table):
            raise schema.error(
                f"{name}: has tables of another program in its schema {OUR_SCHEMA}; {schema.wrong_place}"
            )
        if not _has_our_schema(connection) and connection.exec_driver_sql(_OTHERS).scalar_one():
            raise schema.error(
                f"{name}: is the database of another program; make one for the shop alone (createdb rampwarden), "
                f"or let its owner say: CREATE SCHEMA {OUR_SCHEMA}"
            )
        if not create:
            raise schema.error(f"{name}: there is no {schema.noun} yet; it begins with: {schema.begins_with}")
    elif _is_present(name, schema, scripts, connection):
        return
    with engine.connect().execution_options(isolation_level="READ COMMITTED") as changing, changing.begin():
        changing.exec_driver_sql(f"SELECT pg_advisory_xact_lock({schema.application_id})")
        changing.exec_driver_sql(f"CREATE SCHEMA IF NOT EXISTS {OUR_SCHEMA}")
        changing.exec_driver_sql(_NOCASE)
        changing.exec_driver_sql(f"SET LOCAL search_path TO {OUR_SCHEMA}")
        # Looked at again under the lock: another process may have done it meanwhile.
        if not (_has_table(changing, schema.version_table) and _is_present(name, schema, scripts, changing)):
            _migrate(schema, scripts, changing)


def _is_present(name: str, schema: Schema, scripts: ScriptDirectory, connection: Connection) -> bool:
    """Tell whether the tables are of the present version; raises the schema's error if of a newer one."""
    note = {"version_table": schema.version_table, "version_table_schema": OUR_SCHEMA}
    heads = MigrationContext.configure(connection, opts=note).get_current_heads()
    known = {revision.revision for revision in scripts.walk_revisions()}
    if strange := sorted(set(heads) - known):
        raise schema.error(
            f"{name}: the {schema.noun} is of version {', '.join(strange)}, this program reads up to "
            f"{scripts.get_current_head()}; nothing was changed, use the newer program"
        )
    return set(heads) == set(scripts.get_heads())


def _migrate(schema: Schema, scripts: ScriptDirectory, connection: Connection) -> None:
    def steps(current: tuple[str, ...], _: MigrationContext) -> list[RevisionStep]:
        return scripts._upgrade_revs("head", current)  # type: ignore[arg-type]  # as Alembic does

    with EnvironmentContext(Config(), scripts, fn=steps) as environment:
        environment.configure(
            connection=connection,
            version_table=schema.version_table,
            version_table_schema=OUR_SCHEMA,
        )
        environment.run_migrations()


def _scripts(schema: Schema) -> ScriptDirectory:
    return ScriptDirectory(str(schema.folder.parent), version_locations=[str(schema.folder)])


def _has_table(connection: Connection, table: str) -> bool:
    found = connection.exec_driver_sql(f"SELECT to_regclass('{OUR_SCHEMA}.{table}')").scalar_one()
    return found is not None


def _has_our_schema(connection: Connection) -> bool:
    return bool(
        connection.exec_driver_sql(
            f"SELECT count(*) FROM pg_catalog.pg_namespace WHERE nspname = '{OUR_SCHEMA}'"
        ).scalar_one()
    )
