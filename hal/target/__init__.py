"""The target: the reference object that a person or a stage puts at a distance from the sensing face."""

from hal.target.manual import ManualTarget
from hal.target.opening import open_target
from hal.target.slots import SlotTarget
from hal.target.stage import StageTarget
from hal.target.target import OutOfReach, Target

__all__ = ["ManualTarget", "OutOfReach", "SlotTarget", "StageTarget", "Target", "open_target"]
