"""Cautions, each beside the step it belongs to. Common practice; all of them defer to local law,
site rules and the maker's instructions."""

ISOLATION = (
    "Lock, tag and try every source of energy; a pull cord or a stopped motor is no isolation."
)
STORED = "A stopped belt still holds its tension: let it go only through the take-up, in control."
LOADED = "A loaded belt on a slope can run: nobody on it, under it or below it."
RUN_BACK = (
    "Run-back starts without warning when a holdback, brake or clamp lets go; trust none alone."
)
CLAMP = (
    "A slipping clamp is a missile with the belt behind it. Only rated clamps, over the whole "
    "width, on clean dry belt."
)
LINE_OF_FIRE = "Stay out of the line of fire: beside the belt, never before or behind a pull."
COUNTERWEIGHT = (
    "Never under the counterweight; it hangs on rated chains and blocks, not on the belt."
)
LIFTING = "Hoists, slings and anchors of known rating; nobody under a lifted load."
CUTTING = "Cut away from the body, cut-proof gloves, board under the belt, blade back in its guard."
PUNCH = (
    "Eye protection. Fingers out from under the punch; nobody across the belt from a power tool."
)
HANDS = "Plate edges and teeth are sharp; no finger in a loop or hole while a belt end is drawn."
TOOLS = "Torque reaction traps hands: brace the wrench, both feet firm."
BOLT_ENDS = "Broken bolt ends fly: eye protection for all, point them away, catch them."
HOT = (
    "Ground and broken bolts are hot; rubber burns. Dust of rubber and silica: mask, wet down. "
    "Underground and in dust: hot-work rules first."
)
SOLVENT = (
    "Cements and cleaners give off vapour that burns and stuns: no flame, no spark, no smoking, "
    "air through the place, gas measured in pits and underground, lids on."
)
PLY_KNIFE = (
    "Ply knives slip: cut-proof gloves on both hands, cut away from the body, nobody opposite."
)
BUFFING = (
    "Buffing throws dust and sparks: eye protection, mask, no loose sleeves, no open cement near."
)
PRESS = (
    "A hot press burns and crushes: lift it by its points, bolts and pressure by its maker, nobody "
    "leans over it under pressure, no pressure let off while it is hot."
)
FIRE = (
    "Rubber under heat can catch fire: extinguisher at hand, press watched to the end, hot-work "
    "rules of the site first."
)
RESTART = "Before the restart: everybody seen and counted, warning given, guards on."
