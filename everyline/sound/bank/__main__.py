"""Print what the bank must hold, as JSON for ``make_bank.mjs``."""

import json
from dataclasses import asdict

from everyline.sound.bank import SOUNDS

print(json.dumps([asdict(sound) | {"program": sound.program - 1} for sound in SOUNDS], indent=1))
