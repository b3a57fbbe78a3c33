"""Which crops are cucurbits: saved seed of theirs can give bitter, harmful fruit."""

# The genera of cucurbits that gardens eat: cucumber and melon, squash and pumpkin, watermelon, the gourds.
GENERA = frozenset(
    {"benincasa", "citrullus", "coccinia", "cucumis", "cucurbita", "lagenaria", "luffa", "momordica", "sechium"}
)
WORDS = ("courgette", "cucumber", "gourd", "marrow", "melon", "pumpkin", "squash", "zucchini")


def is_cucurbit(name: str, botanical: str | None) -> bool:
    """Tell whether a crop is a cucurbit, by its genus, else by what it is called.

    Args:
        name: Name of the crop.
        botanical: Botanical name, the genus first.
    """
    if botanical is not None and botanical.split():
        return botanical.split()[0].lower() in GENERA
    return any(word in name.lower() for word in WORDS)
