"""Cautions as they stand on sheets: short, where the risk is. docs/cautions.md has them with their sources."""

from dataclasses import dataclass

from app.language import N_, _


@dataclass(frozen=True)
class Caution:
    """A risk to people: what it is about, and what to do."""

    head: str
    words: str

    @property
    def said(self) -> "Caution":
        """The same in the language that is being spoken."""
        return Caution(_(self.head), _(self.words))


ELECTRICITY = Caution(
    N_("electricity near water."),
    N_(
        "Plug lamps, mats and fans into an outlet with a ground-fault switch (GFCI or RCD). Plugs and power strips "
        "stay above the trays, each cord with a drip loop; damaged cords go out of use. Makers’ instructions and "
        "local codes come first; wiring is for a licensed electrician."
    ),
)
COVERS = Caution(
    N_("covers and mould."),
    N_(
        "Take a cover off when seedlings show: left on over leaves it breeds mould, which can set off allergies "
        "and asthma. Wet things dry within a day or two."
    ),
)
MIX_DUST = Caution(
    N_("dust of potting mix."),
    N_(
        "It can carry a germ that causes a serious pneumonia. Wear a mask and gloves, open bags away from your "
        "face, damp the mix before handling it, wash your hands before you eat, drink or smoke. If you are older, "
        "smoke, or have weak lungs or defences, ask a doctor first."
    ),
)
TREATED_SEED = Caution(
    N_("treated seed."),
    N_(
        "Read the packet: seed that was treated says so and names the substance. Handle it with gloves, keep it "
        "away from children and animals, and do not eat, feed or compost what is left. The maker’s label comes "
        "first."
    ),
)
SAVED_CUCURBITS = Caution(
    N_("plants from saved or swapped seed of squash, cucumber, melon and gourd."),
    N_(
        "They may be crossed, and crossed plants can bear bitter fruit that makes people ill, cooked or not. Say "
        "so when you hand one on. Taste a scrap raw: if it is bitter, spit it out and throw the whole fruit away."
    ),
)
AVERAGES = Caution(
    N_("dates are chances, not promises."),
    N_(
        "An average last frost is an even chance: half of all springs freeze later. Watch the forecast and keep "
        "covers at hand; a garden in a hollow is colder than the station."
    ),
)
