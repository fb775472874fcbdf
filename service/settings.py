"""Every setting of the service, with its unit and its default.

Each is read from the environment as `LIMITWITNESS_<NAME>`. Only `compose` and the commands read them; every
room below is handed plain values.
"""

import argparse
from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """The settings of one process group; a wrong value stops the start and names its variable."""

    model_config = SettingsConfigDict(env_prefix="LIMITWITNESS_", extra="forbid", frozen=True)

    folder: Path = Field(Path("limitwitness-data"), description="Folder of database, media, signing key.")
    host: str = Field("127.0.0.1", description="Address that the service listens on.")
    port: int = Field(8423, ge=0, le=65535, description="TCP port; 0 lets the system choose a free one.")
    public_address: str = Field("", description="Address that people open, if it is not host and port.")
    workers: int = Field(1, ge=0, le=64, description="Worker processes for reading and hearing.")

    session_idle_s: int = Field(12 * 3600, ge=60, description="Seconds without a request that end a sign-in.")
    session_life_s: int = Field(
        36 * 3600, ge=60, description="Seconds after which a sign-in ends in any case."
    )
    fresh_sign_in_s: int = Field(
        120, ge=5, description="Age in seconds up to which a sign-in counts as fresh."
    )
    enrolment_life_s: int = Field(
        48 * 3600, ge=60, description="Seconds that an enrolment token can be used."
    )
    device_life_s: int = Field(
        400 * 86400, ge=60, description="Seconds after which a device must enrol again."
    )
    sign_in_attempts: int = Field(8, ge=1, description="Failed sign-ins of one name within the window below.")
    sign_in_window_s: int = Field(300, ge=1, description="Seconds over which failed sign-ins are counted.")
    password_min: int = Field(12, ge=8, description="Shortest password, in characters.")
    argon2_memory_kib: int = Field(65536, ge=8, description="Memory of one password hash, in KiB.")

    photo_max_bytes: int = Field(25_000_000, ge=1, description="Largest photo, in bytes.")
    photo_max_pixels: int = Field(60_000_000, ge=1, description="Largest photo, in pixels.")
    clip_max_bytes: int = Field(12_000_000, ge=1, description="Largest sound clip, in bytes.")
    definition_max_bytes: int = Field(2_000_000, ge=1, description="Largest definition file, in bytes.")
    disk_floor_bytes: int = Field(
        200_000_000, ge=0, description="Free bytes under which nothing is taken in."
    )
    database_max_pages: int = Field(
        0, ge=0, description="Largest database, in pages of 4096 bytes; 0: no limit."
    )
    queue_limit: int = Field(2000, ge=1, description="Waiting pieces of work above which intake says 429.")
    pending_limit: int = Field(500, ge=1, description="Items of one device that may wait behind a gap.")

    streams_limit: int = Field(
        4, ge=0, le=64, description="Microphones that one process listens to at a time."
    )
    stream_idle_s: int = Field(60, ge=1, description="Seconds without a message that end a stream.")
    stream_ahead_s: int = Field(
        30, ge=2, description="Seconds that a stream's sound may be ahead of the clock."
    )

    work_lease_s: int = Field(60, ge=2, description="Seconds after which unfinished work is taken up again.")
    work_attempts: int = Field(4, ge=1, description="Attempts after which work is given up and recorded so.")
    work_poll_s: float = Field(0.1, gt=0, description="Seconds between two looks into an empty queue.")
    log_level: str = Field("info", description="debug, info, warning or error.")


def settings_from(options: argparse.Namespace) -> Settings:
    """Return the settings, those on the command line before those of the environment."""
    stated = {"folder": getattr(options, "data", None), "port": getattr(options, "port", None)}
    return Settings(**{name: value for name, value in stated.items() if value is not None})
