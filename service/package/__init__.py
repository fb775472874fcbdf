"""The self-contained evidence of one job: contents, build, check, report."""
