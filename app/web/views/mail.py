"""Weekly letters: the mail server, a test letter, and what became of each."""

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.core.words import MailSecurity
from app.extensions import db
from app.language import N_, _
from app.services.letters import change_mail, send_test
from app.services.mail import CERTIFICATE, Letter, server_of
from app.sheets.stored_words import say_again
from app.storage.engine import reading
from app.storage.models import House
from app.storage.queries.house import find_house
from app.storage.queries.letters import count_recipients, list_letters
from app.web.access import Who, open_to
from app.web.context import current_garden, current_settings
from app.web.forms.mail import MailForm, TestLetterForm
from app.web.once import save

bp = Blueprint("mail", __name__, url_prefix="/setup/mail")

ROWS = 200
PROTECTED = {
    MailSecurity.TLS: N_("TLS from the start"),
    MailSecurity.STARTTLS: "STARTTLS",
    MailSecurity.NONE: N_("nothing protects the connection"),
}


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show the mail server, who gets letters, and what became of those before."""
    return page(find_house(db.session), TestLetterForm())


@bp.route("/server", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def server() -> ResponseReturnValue:
    """Set the mail server, or take it out."""
    house = find_house(db.session)
    form = MailForm(obj=house)
    if form.validate_on_submit():
        is_same = (form.mail_host.data, form.mail_user.data) == (house.mail_host, house.mail_user)
        if form.check(has_passphrase=is_same and house.mail_passphrase is not None):
            values = form.values()
            change_mail(db.session, values)
            return save(url_for("mail.index"), _("Mail server saved") if values.host else _("Mail server taken out"))
    return render_template("mail/server.html", form=form, has_passphrase=house.mail_passphrase is not None)


@bp.post("/test")
@open_to(Who.COORDINATORS)
def test() -> ResponseReturnValue:
    """Send a test letter; nobody who writes waits for the mail server meanwhile."""
    with reading():
        house, garden, form = find_house(db.session), current_garden(), TestLetterForm()
        right = form.validate_on_submit()
        if not right:
            return page(house, form), 400
        chosen = server_of(house, current_settings().instance)
        db.session.rollback()
    if chosen is None:
        flash(_("No mail server is set, so no letter was sent"))
        return redirect(url_for("mail.index"))
    name = garden.name if garden else "Traymates"
    letter = Letter(
        to=form.to.data,
        subject=_("Test letter of %(garden)s", garden=name),
        text=_("This is a test. Weekly letters of %(garden)s will come from this address.", garden=name) + "\n",
        sender_name=name,
    )
    fault = send_test(chosen, letter)
    if fault:
        flash(_("No test letter was sent. %(fault)s.", fault=say_again(fault)))
    else:
        flash(_("The mail server has taken a test letter to %(address)s", address=letter.to))
    return redirect(url_for("mail.index"))


def page(house: House, form: TestLetterForm) -> str:
    """Return the page of the letters."""
    return render_template(
        "mail/index.html",
        house=house,
        is_set=house.mail_host is not None,
        protected=_(PROTECTED[house.mail_security]) if house.mail_security else "",
        certificate=(current_settings().instance / CERTIFICATE).is_file(),
        form=form,
        wanted=count_recipients(db.session),
        letters=list_letters(db.session, ROWS),
    )
