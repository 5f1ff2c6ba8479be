"""Tables of the assemblies: catalogue, recipes, specs, positions, hoses, stock, builds."""

from .assemblies import Assembly, ConditionalRelease, Precision, Stay, Tag, TagLot
from .builds import (
    Amendment,
    BuildBatch,
    BuildEnd,
    BuildPhoto,
    BuildRecord,
    FrozenPaper,
    FrozenSheet,
)
from .catalogue import (
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    ShellItem,
    ShellRevision,
)
from .copies import CopyPhoto, SpecCopy
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
    "BuildBatch",
    "BuildEnd",
    "BuildPhoto",
    "BuildRecord",
    "ColumnMemory",
    "ConditionalRelease",
    "CopyPhoto",
    "CrimpRecipe",
    "CrimpTrial",
    "Crimper",
    "FittingItem",
    "FittingRevision",
    "FrozenPaper",
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
    "SpecCopy",
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
