"""PostgreSQL: tables, migrations and statements."""
