"""What each step of the fitting asks, in words for somebody with a wrench in the hand."""

from typing import Final

from leanwright.told import Told

STEPS: Final = {
    "fuel-off": (
        Told("Fuel off"),
        Told("Master off, mixture cut off, line pressure let off. What did you check?"),
    ),
    "line-off": (Told("Line off"), Told("The line is off and capped. What did you see?")),
    "old-nozzle-out": (Told("Old nozzle out"), Told("Read its marking. Bag it and tag it.")),
    "seat-inspected": (Told("Seat and line"), Told("Look at the seat and into the line. What did you see?")),
    "marking-read": (Told("Read the new nozzle’s marking"), Told("As it is stamped.")),
    "thread-compound": (
        Told("Thread compound"),
        Told("As the instructions say: not on the first threads, not on the bore. Which one, and where?"),
    ),
    "started-by-hand": (Told("Started by hand"), Told("It turns in by hand, freely. How many turns?")),
    "nozzle-torqued": (Told("Torque of the nozzle"), Told("What the wrench read, with its unit.")),
    "line-torqued-at-nozzle": (
        Told("Torque of the line at the nozzle"),
        Told("What the wrench read, with its unit."),
    ),
    "line-torqued-at-divider": (
        Told("Torque of the line at the other end"),
        Told("What the wrench read, with its unit."),
    ),
    "line-marked": (Told("Both ends marked"), Told("A line of paint over each joint. What did you see?")),
    "clamp-back": (Told("Clamp and support back"), Told("The line is held as it was. What did you see?")),
    "looked-at-again": (
        Told("Look again"),
        Told("After a pause, in another order. What did you see and touch?"),
    ),
    "inspected-by-another": (
        Told("Another person’s look"),
        Told("Somebody who did none of it. What did you see and touch?"),
    ),
    "leak-check-at-nozzles": (
        Told("Leak check at the nozzles"),
        Told("Under pump pressure. What did you see?"),
    ),
    "leak-check-at-divider": (
        Told("Leak check at the other ends"),
        Told("Under pump pressure. What did you see?"),
    ),
    "idle-mixture": (Told("Idle mixture"), Told("Rise of the engine speed when the mixture is cut off.")),
    "idle-speed": (Told("Idle speed"), Told("As the tachometer shows it.")),
    "metered-pressure": (Told("Metered fuel pressure"), Told("As the gauge shows it.")),
    "unmetered-pressure": (Told("Unmetered fuel pressure"), Told("As the gauge shows it.")),
    "full-power-flow": (Told("Fuel flow at full power"), Told("As the meter shows it.")),
    "ground-run": (Told("Ground run"), Told("What did you see and hear?")),
    "look-after-run": (
        Told("Look after the run"),
        Told("Every joint again, for stains and looseness. What did you see?"),
    ),
    "placard": (Told("Placard"), Told("What stands on it, and where?")),
    "tools-counted": (Told("Tools counted"), Told("How many, of how many?")),
    "caps-counted": (Told("Caps counted"), Told("How many, of how many?")),
    "cowling": (Told("Cowling"), Told("What did you check?")),
}
RESULTS: Final = {
    "right": Told("as ordered"),
    "wrong-row": Told("stop: its rule does not allow the cylinder on its bag"),
    "double": Told("one more than was ordered"),
    "not-ordered": Told("stop: not ordered"),
    "wrong-number": Told("stop: not the one ordered for that cylinder"),
}
