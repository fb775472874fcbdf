"""Structured logs on stderr.

One line an event, fields instead of prose, no content of claims and no tokens.
"""

import logging
import sys

import structlog


def set_up_logs(level: str) -> None:
    """Send one JSON object a line to stderr, from `level` on."""
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.ExceptionRenderer(
                structlog.tracebacks.ExceptionDictTransformer(show_locals=False)
            ),
            structlog.processors.JSONRenderer(),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.getLevelNamesMapping()[level.upper()]),
        logger_factory=lambda *_: structlog.PrintLogger(
            sys.stderr
        ),  # the stream of the moment, not of the set-up
        cache_logger_on_first_use=False,
    )
