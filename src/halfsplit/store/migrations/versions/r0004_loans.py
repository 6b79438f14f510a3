"""How parts of the shelf stand, and how each stood when it came into a job."""

import sqlalchemy as sa
from alembic import op

revision = "r0004"
down_revision = "r0003"


def upgrade() -> None:
    """Make the columns and the table; a part that was in a job stood there as its grade said."""
    is_small = op.get_bind().dialect.name == "sqlite"
    real: sa.types.TypeEngine[float] = sa.REAL() if is_small else sa.DOUBLE_PRECISION()
    op.add_column("shelf_part", sa.Column("p_bad", real))
    op.add_column("shelf_part", sa.Column("new_exposures", sa.Integer, nullable=False, server_default=sa.text("0")))
    op.add_column("shelf_part", sa.Column("known_at", sa.Text, nullable=False, server_default=""))
    op.execute("UPDATE shelf_part SET new_exposures = exposures, known_at = proven_at")
    op.create_table(
        "loan",
        sa.Column("job", sa.Integer, sa.ForeignKey("job.number", name="fk_loan_job"), nullable=False),
        sa.Column("part", sa.Text, nullable=False),
        sa.Column("p_bad", real),
        sa.Column("exposures", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.Column("days", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.PrimaryKeyConstraint("job", "part", name="pk_loan"),
        sqlite_strict=True,
    )
    op.execute(
        "INSERT INTO loan (job, part) SELECT DISTINCT job, item FROM shelf_event "
        "WHERE what = 'exposed' AND job IS NOT NULL"
    )
