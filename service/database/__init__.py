"""Tables, migrations and the transaction over SQLAlchemy."""
