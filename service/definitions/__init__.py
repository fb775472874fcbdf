"""YAML and JSON definitions of charts, layouts, procedures and jobs, turned into domain values."""
