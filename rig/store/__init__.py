"""The store: what every bench has recorded, in SQLite on the bench and in PostgreSQL for the shop."""
