"""Spare plants: offered, asked for, and handed out, first to those who need them most."""

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.folded import fold
from app.core.log.rules import LogRuleError
from app.core.plan import Plan
from app.core.work.spares import spare_of_sowing
from app.extensions import db
from app.language import _, ngettext
from app.services import spares
from app.services.plan import get_plan
from app.services.spares import Gift, MoreThanThereError, OtherCropError, OwnPlantsError
from app.sheets.names import choice_words, name_words
from app.sheets.spares import make_spares_page
from app.sheets.words import count_words, day_words, number_words
from app.storage.queries.crops import get_crop, list_crop_choices
from app.storage.queries.growers import get_grower, list_grower_choices
from app.storage.queries.sheets import list_saved_cucurbits
from app.storage.queries.sowings import get_sowing
from app.storage.queries.spares import (
    OfferRow,
    get_gift,
    get_offer,
    get_request,
    list_gifts,
    list_offers,
    list_requests,
)
from app.web.access import Who, current_account_id, is_coordinator, is_own, me, open_to, require_own
from app.web.confirm import ask_first
from app.web.context import current_day
from app.web.forms.spares import GiftForm, MemberRequestForm, OfferForm, RequestForm
from app.web.once import save
from app.web.paging import read_number
from app.web.wishes import FORBIDDEN, NO_GROWER

bp = Blueprint("spares", __name__, url_prefix="/spares")


@bp.get("")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """List what is offered, what is asked for in order of need, and what was given; members see what is theirs."""
    offers, asked, gifts = list_offers(db.session), list_requests(db.session), list_gifts(db.session)
    saved = list_saved_cucurbits(db.session) if offers else frozenset()
    page = make_spares_page(get_plan(db.session), offers, asked, gifts, saved_cucurbits=saved, is_shown=is_own)
    return render_template("spares/index.html", page=page, may_ask=why_not() == "")


@bp.route("/offers/new", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def offer() -> ResponseReturnValue:
    """Give plants of a sowing away."""
    if (reason := why_not()) != "":
        return render_template("sowings/closed.html", reason=reason), FORBIDDEN
    plan, offers = get_plan(db.session), list_offers(db.session)
    form = OfferForm(sowing_id=read_number("sowing"))
    form.sowing_id.offer(spare_choices(plan, offers))
    if form.validate_on_submit():
        sowing = get_sowing(db.session, form.sowing_id.data)
        require_own(sowing.grower_id)
        try:
            made = spares.offer_plants(db.session, sowing.id, form.plants.data, form.note.data, today=current_day())
        except MoreThanThereError as error:
            form.plants.errors = [live_words(error.most)]
        else:
            words = ngettext(
                "%(num)s plant of %(crop)s offered",
                "%(num)s plants of %(crop)s offered",
                made.plants,
                num=number_words(made.plants),
                crop=name_words(sowing.crop.name),
            )
            return save(url_for("spares.index"), words)
    return render_template("spares/offer.html", form=form, has_any=len(form.sowing_id.choices or ()) > 1)


@bp.route("/offers/<int:offer_id>/withdraw", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def withdraw_offer(offer_id: int) -> ResponseReturnValue:
    """Ask before an offer is withdrawn, and give no more of its plants away."""
    sowing = get_sowing(db.session, get_offer(db.session, offer_id).sowing_id)
    require_own(sowing.grower_id)
    if request.method != "POST":
        what = _(
            "Nobody can have plants of %(crop)s from it any more. What was given away stays given.",
            crop=name_words(sowing.crop.name),
        )
        return ask_first(_("Withdraw the offer?"), what, _("Withdraw it"), url_for("spares.index"))
    spares.withdraw_offer(db.session, offer_id)
    return save(url_for("spares.index"), _("The offer is withdrawn"))


@bp.route("/requests/new", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def ask() -> ResponseReturnValue:
    """Ask for plants of a crop."""
    if (reason := why_not()) != "":
        return render_template("sowings/closed.html", reason=reason), FORBIDDEN
    form = (RequestForm if is_coordinator() else MemberRequestForm)(
        crop_id=read_number("crop"), grower_id=read_number("grower")
    )
    if form.grower_id is not None:
        form.grower_id.offer(list_grower_choices(db.session))
    form.crop_id.offer(choice_words(list_crop_choices(db.session)))
    if form.validate_on_submit():
        is_own_wish = isinstance(form, MemberRequestForm)
        grower_id = me().grower_id or 0 if is_own_wish else form.grower_id.data
        made = spares.ask_for_plants(
            db.session, grower_id, form.crop_id.data, form.plants.data, form.note.data, today=current_day()
        )
        crop = name_words(get_crop(db.session, made.crop_id).name)
        words = _("Asked for %(plants)s of %(crop)s", plants=count_words(made.plants, "plant", "plants"), crop=crop)
        return save(url_for("spares.index"), words)
    return render_template("spares/ask.html", form=form)


@bp.route("/requests/<int:request_id>/withdraw", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def withdraw_request(request_id: int) -> ResponseReturnValue:
    """Ask before a request is withdrawn, and ask for its plants no longer."""
    asked = get_request(db.session, request_id)
    require_own(asked.grower_id)
    if request.method != "POST":
        crop = name_words(get_crop(db.session, asked.crop_id).name)
        what = _(
            "The place in the queue for %(crop)s goes with it: who asks again is asked last. Plants handed out stay.",
            crop=crop,
        )
        return ask_first(_("Withdraw the request?"), what, _("Withdraw it"), url_for("spares.index"))
    spares.withdraw_request(db.session, request_id)
    return save(url_for("spares.index"), _("Asked for no longer"))


@bp.route("/requests/<int:request_id>/give", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def give(request_id: int) -> ResponseReturnValue:
    """Hand plants of an offer out to who asks for them."""
    asked = get_request(db.session, request_id)
    crop, taker = get_crop(db.session, asked.crop_id), get_grower(db.session, asked.grower_id)
    offers = [
        one
        for one in list_offers(db.session)
        if one.crop_id == asked.crop_id and one.grower_id != asked.grower_id and one.left
    ]
    is_doubtful = bool({one.sowing_id for one in offers} & list_saved_cucurbits(db.session))
    row = next(one for one in list_requests(db.session) if one.id == request_id)
    usual = min(row.left, offers[0].left) if offers else 0
    form = GiftForm(offer_id=offers[0].id if len(offers) == 1 else None, plants=usual or None)
    form.offer_id.offer((one.id, offer_words(one)) for one in offers)
    if form.validate_on_submit():
        wanted = Gift(offer_id=form.offer_id.data, request_id=request_id, plants=form.plants.data)
        try:
            spares.give_plants(db.session, wanted, today=current_day(), account_id=current_account_id())
        except MoreThanThereError as error:
            form.plants.errors = [live_words(error.most)]
        except LogRuleError:
            form.plants.errors = [_("By the log of the giver’s sowing there are fewer. Look at its entries first.")]
        except (OtherCropError, OwnPlantsError):
            form.offer_id.errors = [
                _("These cannot be given to them. Choose plants of the same crop, of somebody else.")
            ]
        else:
            words = ngettext(
                "%(num)s plant of %(crop)s handed out to %(grower)s",
                "%(num)s plants of %(crop)s handed out to %(grower)s",
                wanted.plants,
                num=number_words(wanted.plants),
                crop=name_words(crop.name),
                grower=taker.name,
            )
            return save(url_for("spares.index"), words)
    return render_template("spares/give.html", form=form, asked=row, has_any=bool(offers), is_doubtful=is_doubtful)


@bp.post("/gifts/<int:gift_id>/take-back")
@open_to(Who.COORDINATORS)
def take_back(gift_id: int) -> ResponseReturnValue:
    """Take back that plants were handed out."""
    get_gift(db.session, gift_id)
    index = url_for("spares.index")
    try:
        was_logged = spares.take_gift_back(db.session, gift_id, today=current_day(), account_id=current_account_id())
    except LogRuleError:
        db.session.rollback()
        return save(
            index, _("Not taken back: later entries in the log of the giver’s sowing would no longer be right.")
        )
    if was_logged:
        return save(index, _("Taken back and in the log too"))
    return save(index, _("Taken back; the log had no such entry any more, so look at it"))


def why_not() -> str:
    """Return why whoever sends the request can neither offer nor ask, in words; empty where they can."""
    return "" if is_coordinator() or me().grower_id is not None else _(NO_GROWER)


def spare_choices(plan: Plan, offers: list[OfferRow]) -> list[tuple[int, str]]:
    """Return the sowings of which whoever sends the request can give plants away, each with how many."""
    garden, sowings = plan.garden, plan.garden.sowings
    offered: dict[int, int] = {}
    for one in offers:
        offered[one.sowing_id] = offered.get(one.sowing_id, 0) + one.left
    found = []
    for index in plan.living.nonzero()[0].tolist():
        row_id, grower = int(sowings.ids[index]), garden.growers[int(sowings.grower[index])]
        spare = spare_of_sowing(plan, index, offered.get(row_id, 0))
        if spare and is_own(grower.id):
            crop, variety = name_words(garden.cards[int(sowings.crop[index])].name), sowings.varieties[index]
            what = f"{crop}, {variety}" if variety else crop
            if is_coordinator():
                what = _("%(crop)s of %(grower)s", crop=what, grower=grower.name)
            plants = count_words(spare, "plant", "plants")
            said = _("%(what)s: %(plants)s (%(sowing)s)", what=what, plants=plants, sowing=sowings.names[index])
            found.append((row_id, said))
    return sorted(found, key=lambda choice: fold(choice[1]))


def offer_words(row: OfferRow) -> str:
    """Return an offer as a list to choose from shows it."""
    left = count_words(row.left, "plant", "plants")
    plants = f"{row.variety}, {left}" if row.variety else left
    return _(
        "%(grower)s: %(plants)s, since %(day)s",
        grower=row.grower,
        plants=plants,
        day=day_words(row.date),
    )


def live_words(most: int) -> str:
    """Return how many plants there are to give."""
    if not most:
        return _("By the log none lives and can be given away.")
    return ngettext(
        "By the log %(num)s plant lives and can be given away.",
        "By the log %(num)s plants live and can be given away.",
        most,
        num=number_words(most),
    )
