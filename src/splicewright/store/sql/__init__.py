"""The register in SQL: SQLite and PostgreSQL through one class."""
