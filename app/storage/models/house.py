"""What is set for the place where the program runs, whatever garden is loaded."""

from typing import ClassVar

from sqlalchemy import CheckConstraint, String, false
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import MailSecurity
from app.storage.base import Base, words


class House(Base):
    """Who may look without signing in, the garden's Wi-Fi, and how backups are kept; one row, or none."""

    __tablename__ = "house"
    __table_args__ = (
        CheckConstraint("id = 1", name="one_row"),
        CheckConstraint("mail_port BETWEEN 1 AND 65535", name="mail_port_is_port"),
        CheckConstraint("keep_days > 0 AND keep_weeks >= 0 AND keep_months >= 0", name="keeps_some"),
    )
    marks_data: ClassVar[bool] = False

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False, default=1)
    open_to_visitors: Mapped[bool] = mapped_column(default=False)
    wifi_name: Mapped[str | None]
    wifi_passphrase: Mapped[str | None]
    keep_days: Mapped[int] = mapped_column(default=7)
    keep_weeks: Mapped[int] = mapped_column(default=4)
    keep_months: Mapped[int] = mapped_column(default=12)
    second_folder: Mapped[str | None] = mapped_column(String(500))
    # The server through which weekly letters go, where there is one.
    mail_host: Mapped[str | None] = mapped_column(String(200))
    mail_port: Mapped[int | None]
    mail_security: Mapped[MailSecurity | None] = mapped_column(words(MailSecurity, "mail_security"))
    mail_user: Mapped[str | None] = mapped_column(String(200))
    mail_passphrase: Mapped[str | None] = mapped_column(String(200))
    mail_from: Mapped[str | None] = mapped_column(String(200))
    steps_hidden: Mapped[bool] = mapped_column(default=False, server_default=false())  # the first steps are known
    holds_demo: Mapped[bool] = mapped_column(
        default=False, server_default=false()
    )  # the garden here is the invented one
