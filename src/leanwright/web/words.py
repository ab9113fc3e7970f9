"""What each step of the fitting asks, in words for somebody with a wrench in the hand."""

from typing import Final

STEPS: Final = {
    "fuel-off": ("Fuel off", "Master off, mixture cut off, line pressure let off. What did you check?"),
    "line-off": ("Line off", "The line is off and capped. What did you see?"),
    "old-nozzle-out": ("Old nozzle out", "Read its marking. Bag it and tag it."),
    "seat-inspected": ("Seat and line", "Look at the seat and into the line. What did you see?"),
    "marking-read": ("Read the new nozzle’s marking", "As it is stamped."),
    "thread-compound": (
        "Thread compound",
        "As the instructions say: not on the first threads, not on the bore. Which one, and where?",
    ),
    "started-by-hand": ("Started by hand", "It turns in by hand, freely. How many turns?"),
    "nozzle-torqued": ("Torque of the nozzle", "What the wrench read, with its unit."),
    "line-torqued-at-nozzle": ("Torque of the line at the nozzle", "What the wrench read, with its unit."),
    "line-torqued-at-divider": (
        "Torque of the line at the other end",
        "What the wrench read, with its unit.",
    ),
    "line-marked": ("Both ends marked", "A line of paint over each joint. What did you see?"),
    "clamp-back": ("Clamp and support back", "The line is held as it was. What did you see?"),
    "looked-at-again": ("Look again", "After a pause, in another order. What did you see and touch?"),
    "inspected-by-another": (
        "Another person’s look",
        "Somebody who did none of it. What did you see and touch?",
    ),
    "leak-check-at-nozzles": ("Leak check at the nozzles", "Under pump pressure. What did you see?"),
    "leak-check-at-divider": ("Leak check at the other ends", "Under pump pressure. What did you see?"),
    "idle-mixture": ("Idle mixture", "Rise of the engine speed when the mixture is cut off."),
    "idle-speed": ("Idle speed", "As the tachometer shows it."),
    "metered-pressure": ("Metered fuel pressure", "As the gauge shows it."),
    "unmetered-pressure": ("Unmetered fuel pressure", "As the gauge shows it."),
    "full-power-flow": ("Fuel flow at full power", "As the meter shows it."),
    "ground-run": ("Ground run", "What did you see and hear?"),
    "look-after-run": (
        "Look after the run",
        "Every joint again, for stains and looseness. What did you see?",
    ),
    "placard": ("Placard", "What stands on it, and where?"),
    "tools-counted": ("Tools counted", "How many, of how many?"),
    "caps-counted": ("Caps counted", "How many, of how many?"),
    "cowling": ("Cowling", "What did you check?"),
}
RESULTS: Final = {
    "right": "as ordered",
    "wrong-row": "stop: its rule does not allow the cylinder on its bag",
    "double": "one more than was ordered",
    "not-ordered": "stop: not ordered",
    "wrong-number": "stop: not the one ordered for that cylinder",
}
