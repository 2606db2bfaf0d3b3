"""The register on phones and desks: server-rendered pages, a job that works without signal."""
