"""${message}."""

from alembic import op

revision = "${up_revision}"
down_revision = ${repr(down_revision)}
branch_labels = None
depends_on = None


def upgrade() -> None:
    """What is new."""
    ${upgrades if upgrades else "op.execute('SELECT 1')"}


def downgrade() -> None:
    """Back to the version before."""
    ${downgrades if downgrades else "op.execute('SELECT 1')"}
