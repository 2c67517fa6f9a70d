"""The page on which a person chooses frames of a set; it writes one marks file and nothing else."""
