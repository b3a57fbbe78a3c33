"""Who may do what, route by route, written down by itself: the judge of what the views say of themselves.

A route is its endpoint and method. `OWN` routes are for members where the thing is theirs, and `LOG` routes for members
and people at the bench tablet where something of theirs is in the tray.
"""

EVERYONE, VISITORS, TABLET = "everyone", "visitors", "tablet"
BENCH, MEMBERS, COORDINATORS = "bench", "members", "coordinators"
OWN, LOG = "members, own", "bench, own"

# Of each group: who may, among the roles below.
MAY = {
    EVERYONE: {"anonymous", "visitor", "tablet", "at bench", "no grower", "member", "other member", "coordinator"},
    VISITORS: {"visitor", "tablet", "at bench", "no grower", "member", "other member", "coordinator"},
    TABLET: {"tablet", "at bench", "no grower", "member", "other member", "coordinator"},
    BENCH: {"at bench", "no grower", "member", "other member", "coordinator"},
    MEMBERS: {"no grower", "member", "other member", "coordinator"},
    COORDINATORS: {"coordinator"},
    OWN: {"member", "coordinator"},
    LOG: {"at bench", "member", "coordinator"},
}
ROLES = ("anonymous", "visitor", "tablet", "at bench", "no grower", "member", "other member", "coordinator")

_LINES = """
static GET everyone
feeds.feed GET everyone
sign_in.index GET POST everyone
sign_in.demo POST everyone
sign_in.sign_out GET POST everyone
sign_in.slip GET POST everyone
language.index GET POST everyone
guide.index GET everyone
guide.show GET everyone
guide.picture GET everyone
health.index GET everyone

ledger.index GET visitors
ledger.week GET visitors
ledger.csv GET visitors
sheets.weekly GET visitors
sheets.weekly_pdf GET visitors

bench.index GET tablet
bench.person GET POST tablet
bench.done POST tablet
bench.end GET POST tablet
bench.begin POST coordinators

trays.short GET bench
trays.show GET bench
trays.mark POST bench, own
log.several GET POST bench
log.tray GET POST bench, own
log.sowing GET POST bench, own
log.correct GET POST bench, own
log.take_back POST bench, own
log.index GET members
log.csv GET members
trays.unmark POST bench, own

connect.index GET members
connect.door GET members
connect.wifi GET POST coordinators

search.index GET members

account.index GET members
account.name GET POST members
account.email GET POST members
account.passphrase GET POST members
account.pin GET POST members
account.clear_pin GET POST members
account.end_device POST members
account.sign_out_everywhere POST members
account.export GET members
account.export_changes GET members

week.index GET members
week.pdf GET members
week.tick POST members
week.untick POST members
feeds.index GET members
feeds.make POST members
feeds.end POST members
feeds.of_garden GET members
season.index GET members
supplies.index GET members
supplies.order_csv GET members
supplies.weeks_csv GET members
light.index GET members
moves.index GET members
moves.pdf GET members
notice.index GET members
notice.pdf GET members
frost.index GET members
containers.index GET members
crops.index GET members
crops.show GET members
seed_lots.index GET members
seed_lots.show GET members
shelves.index GET members
shelves.show GET members
trays.index GET members
sheets.index GET members
sheets.sowing GET members
sheets.sowing_pdf GET members
sheets.hand_out GET members
sheets.hand_out_pdf GET members
sowings.index GET members
spares.index GET members
review.index GET members
review.pdf GET members
review.csv GET members
rounds.index GET members
rounds.show GET bench
rounds.pdf GET members
rounds.done POST bench, own
rounds.reopen POST members, own
rounds.offer POST members, own
rounds.keep POST members, own
rounds.take POST wishes
rounds.give GET POST coordinators
rounds.share GET coordinators
rounds.accept POST coordinators
wishes.last_season GET members

growers.show GET members, own
sheets.grower_pdf GET members, own
feeds.of_grower GET members, own
sowings.new GET POST wishes
spares.offer GET POST wishes
spares.ask GET POST wishes
spares.withdraw_offer GET POST members, own
spares.withdraw_request GET POST members, own
wishes.decide POST members, own
wishes.keep_all POST members, own
sowings.edit GET POST members, own
week.again POST members, own
sowings.delete GET POST members, own

growers.index GET coordinators
growers.new GET POST coordinators
growers.edit GET POST coordinators
growers.delete GET POST coordinators
wishes.index GET coordinators
spares.give GET POST coordinators
spares.take_back POST coordinators
sowings.day GET coordinators
sowings.move POST coordinators
containers.new GET POST coordinators
containers.edit GET POST coordinators
containers.delete GET POST coordinators
crops.new GET POST coordinators
crops.edit GET POST coordinators
crops.delete GET POST coordinators
seed_lots.new GET POST coordinators
seed_lots.edit GET POST coordinators
seed_lots.delete GET POST coordinators
seed_lots.new_test GET POST coordinators
seed_lots.delete_test GET POST coordinators
shelves.new GET POST coordinators
shelves.edit GET POST coordinators
shelves.delete GET POST coordinators
trays.delete GET POST coordinators
trays.exchange GET POST coordinators
trays.move GET POST coordinators
trays.pin POST coordinators
trays.pin_position POST coordinators
trays.renumber POST coordinators
trays.start GET POST coordinators
next_season.index GET coordinators
next_season.carry POST coordinators
next_season.folder GET coordinators
deal.index GET coordinators
deal.accept POST coordinators
sheets.deadlines_csv GET coordinators
levelling.index GET coordinators
levelling.start POST coordinators
levelling.start_with_shelf POST coordinators
levelling.show GET coordinators
levelling.stop POST coordinators
levelling.choose GET POST coordinators
levelling.some POST coordinators
levelling.accept POST coordinators
levelling.throw_away GET POST coordinators
levelling.take_back POST coordinators
setup.index GET coordinators
setup.new GET POST coordinators
setup.edit_garden GET POST coordinators
setup.edit_frost GET POST coordinators
frost.save_risk POST coordinators
frost.upload GET POST coordinators
frost.remove GET POST coordinators
frost.paste GET POST coordinators
labels.index GET coordinators
labels.make POST coordinators
labels.again GET coordinators
printing.index GET coordinators
printing.frame GET coordinators
printing.new_printer GET POST coordinators
printing.edit_printer GET POST coordinators
printing.delete_printer GET POST coordinators
printing.new_stock GET POST coordinators
printing.edit_stock GET POST coordinators
printing.delete_stock GET POST coordinators
printing.address GET POST coordinators
backups.index GET coordinators
backups.make POST coordinators
backups.download GET coordinators
backups.settings GET POST coordinators
people.index GET coordinators
mail.index GET coordinators
mail.server GET POST coordinators
mail.test POST coordinators
send_words.index GET coordinators
people.new GET POST coordinators
people.invite_growers POST coordinators
people.edit GET POST coordinators
people.sign_out POST coordinators
people.clear_pin GET POST coordinators
people.slips GET POST coordinators
people.erase_person GET POST coordinators
people.visitors GET POST coordinators
people.end_bench POST coordinators
history.index GET coordinators
batches.index GET coordinators
batches.show GET coordinators
batches.undo POST coordinators
bring_in.index GET POST coordinators
first_steps.index GET coordinators
first_steps.demo POST coordinators
first_steps.away POST coordinators
first_steps.clear GET POST coordinators
"""

# A member wishes for themselves, whoever stands in the address; one who is no grower has nobody to wish for.
MAY["wishes"] = {"member", "other member", "coordinator"}


def _read(line):
    endpoint, *words = line.split()
    methods = [word for word in words if word in {"GET", "POST"}]
    return [((endpoint, method), " ".join(words[len(methods) :])) for method in methods]


TABLE = dict(entry for line in _LINES.split("\n") if line.strip() for entry in _read(line))
