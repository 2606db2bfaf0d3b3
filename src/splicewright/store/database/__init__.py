"""The database: opened, migrated, and its tables."""
