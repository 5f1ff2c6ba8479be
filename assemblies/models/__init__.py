"""Tables of the assemblies: catalogue, recipes, specs, positions, hoses, stock, builds."""

from .assemblies import Assembly, ConditionalRelease, Precision, Stay, Tag, TagLot
from .builds import Amendment, BuildEnd, BuildRecord, FrozenSheet
from .catalogue import (
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    ShellItem,
    ShellRevision,
)
from .recipes import CrimpRecipe, RecipeRevision
from .specs import AssemblySpec, Position, SpecEnd, SpecRevision, SpecSleeve
from .stock import Reel, StockItem, StockMovement
from .trials import CrimpTrial, RecipeTrial, TrialPress, TrialProof
from .uploads import ColumnMemory, RegisterFile, RegisterRow
from .workshop import Crimper, Instrument

__all__ = [
    "Amendment",
    "Assembly",
    "AssemblySpec",
    "BuildEnd",
    "BuildRecord",
    "ColumnMemory",
    "ConditionalRelease",
    "CrimpRecipe",
    "CrimpTrial",
    "Crimper",
    "FittingItem",
    "FittingRevision",
    "FrozenSheet",
    "HoseItem",
    "HoseRevision",
    "Instrument",
    "Position",
    "Precision",
    "RecipeRevision",
    "RecipeTrial",
    "Reel",
    "RegisterFile",
    "RegisterRow",
    "ShellItem",
    "ShellRevision",
    "SpecEnd",
    "SpecRevision",
    "SpecSleeve",
    "Stay",
    "StockItem",
    "StockMovement",
    "Tag",
    "TagLot",
    "TrialPress",
    "TrialProof",
]
