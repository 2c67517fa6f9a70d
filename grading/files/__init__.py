"""Files: originals are read, outputs and their sidecars written, nothing else touched."""
