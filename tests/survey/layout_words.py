"""Words for invented devices: names of entries, folders, files, keys and labels, all of our own making."""

from __future__ import annotations

import random
from collections.abc import Sequence

PLAIN = [
    "Alder Ferry",
    "Amber Lantern",
    "Ballad of Tin",
    "Barley Moon",
    "Bellmaker",
    "Briar Path",
    "Candle Road",
    "Clay Pigeon Lake",
    "Cobble Court",
    "Copper Thrush",
    "Dapple Grey",
    "Driftwood",
    "Ember Isle",
    "Fallow Deer",
    "Feather Mill",
    "Glass Orchard",
    "Gosling Green",
    "Hazel Weir",
    "Heron Steps",
    "Hollow Hill",
    "Ivory Gull",
    "Juniper Gate",
    "Kelp Garden",
    "Kestrel Row",
    "Larch Loft",
    "Linnet Lane",
    "Lowland Pipe",
    "Marsh Lights",
    "Meadow Clock",
    "Nettle Soup",
    "Night Barge",
    "Oak Apple",
    "Osprey Point",
    "Paper Crane",
    "Pebble Choir",
    "Plum Harvest",
    "Quarry Song",
    "Quilted Sky",
    "Rain Barrel",
    "Reed Boat",
    "Rook Tower",
    "Rust and Rye",
    "Saffron Tent",
    "Sable Coast",
    "Salt Ladder",
    "Slate Roof",
    "Sorrel Field",
    "Tallow Light",
    "Teasel Patch",
    "Thistle Down",
    "Tidal Shelf",
    "Umber Wood",
    "Velvet Mole",
    "Vesper Bell",
    "Walnut Ship",
    "Water Meadow",
    "Whin Bank",
    "Willow Herb",
    "Winter Wren",
    "Yarrow Street",
    "Yew Circle",
    "Zephyr House",
]
FAMILIES = (
    ("Boat", "Boats", "Boats 2", "SpeedBoats"),
    ("Owl", "Owl.2", "Owl (late)", "Owls"),
    ("Knot", "Knot 9", "Knot 10", "Knots"),
    ("Ash", "Ashes", "Ash Tree", "Splash"),
    ("No", "No. 7", "No. 70", "Nothing"),
)
COMMON = ("start", "main", "on", "blue", "menu", "small", "one", "list", "front", "none")
SIGNS = (
    "Salt & Pepper",
    "Kite's Tail",
    "50% Cloud",
    "Fern, Moss",
    "Up + Down",
    "Who!",
    "Half (open)",
    "A.B.C",
)
FOREIGN = ("Été doux", "Żółw", "Ветер", "Ñandú", "Größe", "Smörgås", "Ωmega", "月の船")
LABELS = [
    "The Long Quiet",
    "A Kettle Sings",
    "Morning in Felt",
    "Under Nine Roofs",
    "Two for the Ferryman",
    "Bread and Weather",
    "When Tins Were New",
    "The Borrowed Coat",
    "A Map with Holes",
    "Seven Soft Steps",
    "What the Wren Said",
    "Old Rope",
    "Lamps at Low Water",
    "The Patient Wheel",
    "Round by the Mill",
    "Ink & Apples",
    "A Pocket of Hail",
    "Only the Gulls",
    "Said the Stair",
    "Down to Slack Tide",
    "Brass Weather",
    "The Third Thimble",
    "Soup for Strangers",
    "An Hour of Moss",
    "Nobody's Orchard",
    "Crumbs Lead Home",
    "The Tin Parade",
    "Late for Harvest",
    "One Shoe, No Sock",
    "Every Other Door",
    "A Roof of Reeds",
    "Hush, Said Tam",
    "The Gate Swings Twice",
    "Plenty of String",
    "The Owl's Errand",
    "Beyond the Sluice",
    "Little Fires",
    "Hats in the Wind",
    "To the Last Lamp",
    "Cold Hands, Warm Bell",
    "Snow on the Ledger",
    "As Told by Jo",
    "Thirteen Ducks",
    "The Wool Letter",
    "Paint the Fence",
    "Milk for the Moon",
    "A Bench by Noon",
    "Cork and Candle",
    "Turn Left at Elm",
    "The Blue Ladle",
    "Ask the Miller",
    "Wind Your Own Clock",
    "No Such Harbour",
    "A Very Small Flood",
]
ROOMS = ("Upstairs", "Cellar", "Long Gallery", "Kitchen & Yard", "Attic", "Remise", "Véranda", "East Wing")
FOLDERS = [
    "trove",
    "burrow",
    "pantry",
    "larder",
    "granary",
    "wharf",
    "cloister",
    "paddock",
    "hutch",
    "barn",
    "silo",
    "vault",
    "dresser",
    "sideboard",
    "cabinet",
    "alcove",
    "gable",
    "turret",
    "ledgerhall",
    "harbourage",
    "scullery",
    "garth",
    "bothy",
    "croft",
]
HOUSE_FOLDERS = ["innards", "backroom", "workings", "upkeep", "husk", "plumbing", "joinery", "footings"]
PICTURE_FOLDERS = ["faces", "medallions", "cameos", "tokens", "vignettes", "silhouettes", "stamps"]
ART_FOLDERS = ["banners", "murals", "tapestries", "canvases", "broadsides"]
KEEP_FOLDERS = ["memories", "leavings", "bookmarks", "traces", "crumbs"]
MANIFESTS = ["rollcall", "inventory", "muster", "almanack", "docket", "census", "tally", "roster-of-all"]
LISTS = ["cherished", "lately", "oftenest", "atop", "dear"]
SCRIPTS = ["daybreak", "wakeup", "uprise", "cockcrow", "kindle"]
STATES = ["whereabouts", "remembered", "standing", "yesterday"]
GROUPS = ["hall", "wing", "storey", "aisle", "bay", "quarter"]
RECORDS = ["piece", "item", "nook", "morsel", "leaf"]
ID_KEYS = ["what", "which", "thing", "bearer", "whose"]
LABEL_KEYS = ["wording", "spoken", "headline", "calledas", "inscription"]
RUN_KEYS = ["opens", "leads", "via", "goes", "doorway"]
NEAR_KEYS = ["kin", "beside", "cousins"]
FACE_KEYS = ["badge", "token", "likeness"]
NOISE_KEYS = ("weight", "shade", "mood", "turns")
VOLUMES = ["hold", "spring", "keel", "mast", "basin", "cask"]
MOUNTS = ("/srv/keel", "/media/pocket", "/stow", "/run/bay/one", "/cargo", "/opt/hold")
SUFFIXES = ("yarn", "skein", "reel", "bobbin", "tape.x")
SPLASHES = ["dawn", "dusk", "curtain", "welcome", "farewell", "empty-well"]
MOTIONS = ["prelude", "overture", "unfurl"]
DISTRACTORS = ["snapshots", "wallpapers", "scans", "postcards"]


def pick_names(rng: random.Random, count: int, traits: set[str]) -> list[str]:
    """Names for one menu: plain ones, and by trait families of prefixes, common words, signs and letters."""
    names: list[str] = []
    if "families" in traits:
        names += [name for family in rng.sample(FAMILIES, 2) for name in family]
    if "common" in traits:
        names += rng.sample(COMMON, 3)
    if "signs" in traits:
        names += rng.sample(SIGNS, 4)
    if "foreign" in traits:
        names += rng.sample(FOREIGN, 4)
    names += rng.sample(PLAIN, max(4, count - len(names)))
    if "numbered" in traits:
        return [f"{number:02d} {name}" for number, name in enumerate(names, 1)]
    rng.shuffle(names)
    return names


class Deck:
    """Deals words, each once."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng
        self._dealt: set[str] = set()

    def deal(self, words: Sequence[str]) -> str:
        left = [word for word in words if word not in self._dealt]
        word = self._rng.choice(left)
        self._dealt.add(word)
        return word

    def deal_label(self) -> str:
        """A label that no other thing of this card has."""
        left = [label for label in LABELS if label not in self._dealt]
        if left:
            return self.deal(LABELS)
        for number in range(2, 99):
            again = [
                f"{label}, part {number}" for label in LABELS if f"{label}, part {number}" not in self._dealt
            ]
            if again:
                return self.deal(again)
        raise AssertionError("out of labels")
