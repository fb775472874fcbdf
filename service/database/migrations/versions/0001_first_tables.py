"""The first tables: registers, jobs with their entries and heads, media, what was served, work."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create every table."""
    op.create_table(
        "sign_in_failures",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name_hash", sa.String(length=64), nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_failures")),
    )
    op.create_index("ix_sign_in_failures_name_at", "sign_in_failures", ["name_hash", "at"], unique=False)
    op.create_table(
        "sites",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("rules", sa.Text(), nullable=False),
        sa.Column("created", sa.String(length=27), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sites")),
        sa.UniqueConstraint("name", name=op.f("uq_sites_name")),
    )
    op.create_table(
        "devices",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("enrolled", sa.String(length=27), nullable=False),
        sa.Column("expires", sa.String(length=27), nullable=False),
        sa.Column("revoked", sa.String(length=27), nullable=True),
        sa.Column("clock_offset_s", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_devices_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_devices")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_devices_token_hash")),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("tag", sa.Text(), nullable=False),
        sa.Column("valve", sa.Text(), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.Column("step", sa.Text(), nullable=True),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("opened", sa.String(length=27), nullable=False),
        sa.Column("changed", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_jobs_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_index("ix_jobs_site_tag", "jobs", ["site_id", "tag"], unique=False)
    op.create_table(
        "persons",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sign_in_name", sa.Text(), nullable=False),
        sa.Column("password", sa.Text(), nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_persons_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_persons")),
        sa.UniqueConstraint("sign_in_name", name=op.f("uq_persons_sign_in_name")),
    )
    op.create_table(
        "entries",
        sa.Column("job_id", sa.String(length=36), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("envelope", sa.LargeBinary(), nullable=False),
        sa.Column("payload", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_entries_job_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_entries_site_id")),
        sa.PrimaryKeyConstraint("job_id", "seq", name=op.f("pk_entries")),
        sa.UniqueConstraint("hash", name=op.f("uq_entries_hash")),
        sa.UniqueConstraint("job_id", "id", name=op.f("uq_entries_job_id_id")),
    )
    op.create_table(
        "invitations",
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("purpose", sa.String(length=20), nullable=False),
        sa.Column("person_id", sa.String(length=36), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("created", sa.String(length=27), nullable=False),
        sa.Column("expires", sa.String(length=27), nullable=False),
        sa.Column("used", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_invitations_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_invitations_site_id")),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_invitations")),
    )
    op.create_table(
        "media",
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("type", sa.String(length=40), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=True),
        sa.Column("height", sa.Integer(), nullable=True),
        sa.Column("received", sa.String(length=27), nullable=False),
        sa.Column("person_id", sa.String(length=36), nullable=True),
        sa.Column("device_id", sa.String(length=36), nullable=True),
        sa.ForeignKeyConstraint(["device_id"], ["devices.id"], name=op.f("fk_media_device_id")),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_media_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_media_site_id")),
        sa.PrimaryKeyConstraint("site_id", "sha256", name=op.f("pk_media")),
    )
    op.create_table(
        "roles",
        sa.Column("person_id", sa.String(length=36), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_roles_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_roles_site_id")),
        sa.PrimaryKeyConstraint("person_id", "role", name=op.f("pk_roles")),
    )
    op.create_table(
        "served",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("person_id", sa.String(length=36), nullable=False),
        sa.Column("device_id", sa.String(length=36), nullable=True),
        sa.Column("job_id", sa.String(length=36), nullable=False),
        sa.Column("step", sa.Text(), nullable=True),
        sa.Column("attempt", sa.Integer(), nullable=True),
        sa.Column("what", sa.String(length=20), nullable=False),
        sa.Column("journal_seq", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(["device_id"], ["devices.id"], name=op.f("fk_served_device_id")),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_served_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_served_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_served_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_served")),
    )
    op.create_index("ix_served_job_person", "served", ["job_id", "person_id"], unique=False)
    op.create_table(
        "sessions",
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("person_id", sa.String(length=36), nullable=False),
        sa.Column("device_id", sa.String(length=36), nullable=True),
        sa.Column("started", sa.String(length=27), nullable=False),
        sa.Column("last_used", sa.String(length=27), nullable=False),
        sa.Column("proved", sa.String(length=27), nullable=False),
        sa.Column("ended", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["device_id"], ["devices.id"], name=op.f("fk_sessions_device_id")),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_sessions_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_sessions_site_id")),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_sessions")),
    )
    op.create_table(
        "work",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("key", sa.String(length=128), nullable=False),
        sa.Column("job_id", sa.String(length=36), nullable=False),
        sa.Column("arguments", sa.Text(), nullable=False),
        sa.Column("priority", sa.Integer(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("queued", sa.String(length=27), nullable=False),
        sa.Column("claimed_by", sa.String(length=36), nullable=True),
        sa.Column("claimed_until", sa.String(length=27), nullable=True),
        sa.Column("finished", sa.String(length=27), nullable=True),
        sa.Column("failure", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_work_job_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_work_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work")),
        sa.UniqueConstraint("key", name=op.f("uq_work_key")),
    )
    op.create_index("ix_work_open", "work", ["finished", "claimed_until"], unique=False)
    op.create_table(
        "heads",
        sa.Column("job_id", sa.String(length=36), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.Column("signature", sa.LargeBinary(), nullable=False),
        sa.Column("public_key", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id", "seq"], ["entries.job_id", "entries.seq"], name=op.f("fk_heads_job_id_seq")
        ),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_heads_site_id")),
        sa.PrimaryKeyConstraint("job_id", "seq", name=op.f("pk_heads")),
    )
    op.create_table(
        "job_media",
        sa.Column("job_id", sa.String(length=36), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.String(length=36), nullable=False),
        sa.Column("shows", sa.String(length=20), nullable=False),
        sa.Column("of", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_media_job_id")),
        sa.ForeignKeyConstraint(
            ["site_id", "sha256"], ["media.site_id", "media.sha256"], name=op.f("fk_job_media_site_id_sha256")
        ),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_job_media_site_id")),
        sa.PrimaryKeyConstraint("job_id", "sha256", name=op.f("pk_job_media")),
    )


def downgrade() -> None:
    """Drop every table."""
    op.drop_table("job_media")
    op.drop_table("heads")
    op.drop_index("ix_work_open", table_name="work")
    op.drop_table("work")
    op.drop_table("sessions")
    op.drop_index("ix_served_job_person", table_name="served")
    op.drop_table("served")
    op.drop_table("roles")
    op.drop_table("media")
    op.drop_table("invitations")
    op.drop_table("entries")
    op.drop_table("persons")
    op.drop_index("ix_jobs_site_tag", table_name="jobs")
    op.drop_table("jobs")
    op.drop_table("devices")
    op.drop_table("sites")
    op.drop_index("ix_sign_in_failures_name_at", table_name="sign_in_failures")
    op.drop_table("sign_in_failures")
