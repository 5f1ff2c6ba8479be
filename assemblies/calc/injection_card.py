"""What the card on the back of a fitting-up sheet says: fluid under the skin, to hospital at once.

That such a wound is a surgical emergency however small it looks is what SAE J1273 and ISO/TR
17165-2 warn of. What to say and to bring is common practice, no published source; the hospital
decides.
"""

CARD_TITLE = "FLUID UNDER THE SKIN IS AN EMERGENCY: TO HOSPITAL AT ONCE"

FIRST_AID = (
    "However small the hole, and even if it does not hurt: this is an emergency. Do not wait for "
    "pain or swelling. Do not finish the job.",
    "Call the emergency number and say: hydraulic fluid injected under pressure. Ask for a "
    "hospital with a surgeon who knows such wounds.",
    "Nobody drives themselves. Someone goes along and takes this card.",
    "Keep still. Take off rings and watch. Cover the hole loosely. Do not squeeze, cut, suck, "
    "heat or cool it.",
    "Eat and drink nothing until a doctor allows it: an operation may come soon.",
    "Machine off, isolated and left as it is. Report it by the site's rules.",
)

FOR_THE_SURGEON = (
    "High-pressure injection of hydraulic fluid through the skin. The hole is small; the harm "
    "lies deeper and may spread far along the hand or the limb.",
    "Please have it seen by a surgeon at once: time decides. Treatment is the surgeon's decision.",
    "Fluid, pressure, temperature and time are written below. The safety data sheet of the fluid "
    "goes along; where it does not, the fluid's maker or a poisons centre can say what is in it.",
)
