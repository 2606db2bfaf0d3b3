"""Cautions, each beside the step it belongs to. Common practice; all of them defer to local law,
site rules and the maker's instructions."""

ISOLATION = (
    "Lock, tag and try every source of energy. A pull cord or a stopped motor does not isolate."
)
MOVING = (
    "The belt moves by its drive: nobody at it. Guards on, radio contact, the warning given before "
    "every start."
)
FALLING = (
    "Tools, idlers and lumps fall. Helmets on; nobody below. Tie yourself on where you can fall."
)
SKIVING = (
    "Skiving throws dust and the blade catches. Eye protection, mask, cut-proof gloves; blade away "
    "from the body; stop before the carcass."
)
ROLL = (
    "A roll of belt starts to turn by itself. Chock it, keep its brake on, nobody in front of or "
    "behind it; lift it by a spreader with a rated axle."
)
RUNAWAY = (
    "On a slope belt runs away downhill until the loop is closed. Brake on, clamp ready at the "
    "top, one person for that alone."
)
STORED = "A stopped belt still holds tension. Release it only through the take-up, under control."
LOADED = (
    "A loaded belt on a slope can run away. Keep everyone off it, from under it and from below it."
)
RUN_BACK = (
    "If a holdback, brake or clamp fails, the belt runs back without warning. Never rely on one "
    "alone."
)
CLAMP = (
    "A clamp that slips flies off with the force of the belt. Use only rated clamps, over the "
    "whole belt width, on clean dry belt."
)
LINE_OF_FIRE = "Stay out of the line of fire. Stand beside the belt, never in line with a pull."
COUNTERWEIGHT = (
    "Never go under the counterweight. Hang and block it on rated chains and blocks, not on the "
    "belt."
)
LIFTING = "Use hoists, slings and anchors of known rating. Keep everyone from under a lifted load."
CUTTING = (
    "Wear cut-proof gloves. Cut away from the body, with a board under the belt. Put the blade "
    "back in its guard."
)
PUNCH = (
    "Wear eye protection. Keep fingers away from the punch. Nobody stands across the belt from a "
    "power tool."
)
HANDS = (
    "Plate edges and teeth are sharp. While a belt end is pulled, keep fingers out of loops and "
    "holes."
)
TOOLS = "A power wrench can trap your hand when it kicks. Brace the wrench and stand firmly."
WRENCH = "A wrench that slips takes your hand with it. Pull it towards you and stand firmly."
DRILL = (
    "Wear eye protection. A drill catches cloth and sleeves: belt held down, both hands on the "
    "drill, nothing loose."
)
HAND_PUNCH = (
    "Wear eye protection. Keep fingers away from the punch: hold it by its grip. Nobody stands in "
    "line with the hammer."
)
BOLT_ENDS = (
    "Bolt ends fly off when they break. Everyone wears eye protection. Point the ends away and "
    "catch them."
)
HOT = (
    "Ground and broken bolts are hot, and rubber burns. Rubber and silica dust: wear a mask and "
    "wet it down. Underground or in dust: follow the hot-work rules before you start."
)
SOLVENT = (
    "Cement and cleaner vapour can burn and can make you faint. No flame, no spark, no smoking. "
    "Ventilate. In pits and underground: measure the gas. Keep lids on."
)
PLY_KNIFE = (
    "Ply knives slip. Wear cut-proof gloves on both hands, cut away from the body, and let nobody "
    "stand opposite."
)
CORDS = (
    "Cut cords spring, and their ends pierce gloves and eyes. Wear eye protection. Hold the cord "
    "on both sides of the cut."
)
BUFFING = (
    "Buffing throws dust and sparks. Wear eye protection and a mask, no loose sleeves. Keep open "
    "cement away."
)
PRESS = (
    "A hot press burns and crushes. Lift it only by its lifting points. Follow its maker for bolts "
    "and pressure. Do not lean over it under pressure. Do not release pressure while it is hot."
)
FIRE = (
    "Hot rubber can catch fire. Keep an extinguisher ready, watch the press until the end, and "
    "follow the hot-work rules of the site before you start."
)
RESTART = "Before the restart: see and count everyone, put the guards back, give the warning."
